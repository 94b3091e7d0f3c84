package book

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"evenbeat/sessions/book/pages"
)

// Salvaged is what Salvage saved of a damaged book, and what it did not.
type Salvaged struct {
	From      string          `json:"from"`             // file of the damaged book
	To        string          `json:"to"`               // file of the new one
	Layout    int             `json:"layout,omitempty"` // of From; 0 if that page is damaged
	Checksums bool            `json:"checksums"`        // whether its pages have checksums; if not, a sound structure is all there is to go by
	Tables    []SalvagedTable `json:"tables"`
	Lost      []string        `json:"lost,omitempty"` // one sentence for each thing lost, and for each that is kept in a changed form
}

// SalvagedTable is how many rows of a table were saved, and how many are lost. Unknown
// tells that there may have been more.
type SalvagedTable struct {
	Table   string `json:"table"`             // its name
	Saved   int64  `json:"saved"`             // rows that were saved
	Lost    int64  `json:"lost"`              // rows that are lost
	Unknown bool   `json:"unknown,omitempty"` // more rows may be lost
}

// OK reports whether all was saved.
func (s Salvaged) OK() bool { return len(s.Lost) == 0 }

// Salvage puts all that is whole of the book at from into a new book at to. It reads
// the pages of from and its write-ahead log by itself, changes neither, and makes no
// file beside them. No other program may write to from meanwhile. The new book is
// checked before it gets its name; a file that is there already is not overwritten
// (KindExists). The error is for what kept it from that; what is lost is in the report.
//
// A row is saved if its page is sound and the book would take it. A row that names a
// clock or session which is lost is saved too, where the rest of the book tells enough
// to put another in its place; the report names those. Beats that follow lost ones are
// numbered on from the last one before, with a break between.
func Salvage(ctx context.Context, from, to string) (report Salvaged, err error) {
	if from, err = realName(from); err == nil {
		to, err = filepath.Abs(to)
	}
	if err != nil {
		return report, fail(from, "salvaging", err)
	}
	report = Salvaged{From: from, To: to}
	if exists(to) {
		return report, alreadyThere(to)
	}
	h, err := readHeader(from)
	if err == nil && h.odd {
		err = h.check(from)
	}
	if errors.Is(err, fs.ErrNotExist) {
		err = &Error{Path: from, Kind: KindMissing, What: "book " + from + ": no such file", Remedy: "name the damaged book", Err: err}
	}
	if err != nil {
		return report, fail(from, "salvaging", err)
	}
	file, err := os.Open(from)
	if err != nil {
		return report, fail(from, "salvaging", err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	log, err := os.ReadFile(from + "-wal")
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return report, fail(from, "salvaging its log", err)
	}
	f, err := pages.Open(file, h.file.Size(), log)
	if err != nil {
		return report, fail(from, "salvaging", err)
	}
	report.Checksums = f.Checksums
	if _, sound := f.Page(1); sound {
		// Its header can be believed, so it says what the file is.
		if err := h.check(from); err != nil {
			if _, damaged := asDamaged(err); !damaged {
				return report, err
			}
		}
		report.Layout = h.version
	}
	return report, fail(to, "salvaging", salvageTo(ctx, f, &report))
}

// salvageTo makes the new book under another name, and gives it its own once it is whole.
func salvageTo(ctx context.Context, f *pages.File, report *Salvaged) (err error) {
	tmp, err := tempName(report.To)
	if err != nil {
		return err
	}
	defer func() {
		err = errors.Join(err, remove(tmp), remove(tmp+"-wal"), remove(tmp+"-shm"), remove(tmp+tallySuffix))
	}()
	if err := fill(ctx, tmp, len(migrations())); err != nil {
		return err
	}
	b, err := Open(ctx, tmp, Options{})
	if err != nil {
		return err
	}
	s := &salvage{f: f, report: report, told: readTally(report.From)}
	err = b.write(ctx, "salvaging", func(tx *sql.Tx) error {
		s.tx = tx
		return s.run(ctx)
	})
	if err := errors.Join(err, b.Close()); err != nil {
		return err
	}
	if err := verify(ctx, report.To, tmp); err != nil {
		return err
	}
	if err := place(tmp, report.To); errors.Is(err, fs.ErrExist) {
		return alreadyThere(report.To)
	} else if err != nil {
		return err
	}
	return syncFolder(filepath.Dir(report.To))
}

package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
)

// Merged is what Merge brought from another book.
type Merged struct {
	Into   string        `json:"into"`           // file of this book
	From   string        `json:"from"`           // file of the other book
	Copy   string        `json:"copy,omitempty"` // of the book as it was; "" if nothing was new
	Added  int64         `json:"added"`          // rows and beats
	Known  int64         `json:"known"`          // those that the book held already
	Tables []MergedTable `json:"tables"`
	Clocks []MergedClock `json:"clocks"`
}

// MergedTable is how many rows of a table came, and how many were there already. Of
// beat_chunks it is how many beats.
type MergedTable struct {
	Table string `json:"table"` // its name
	Added int64  `json:"added"` // rows that came
	Known int64  `json:"known"` // rows that were there already
}

// MergedClock is a clock of the other book, and the one of the book that its rows are under.
type MergedClock struct {
	From string `json:"from"` // its name in the other book
	Name string `json:"name"` // its name in this one
	// New: the book had no such clock. Joined: it had one of that name, which was added to
	// it on its own, and of which it knows nothing that speaks against it.
	New    bool `json:"new,omitempty"`
	Joined bool `json:"joined,omitempty"`
}

// Merge adds to the book at into all that the book at from holds and it doesn't: all of it,
// or nothing. A copy of the book as it was is kept beside it. Neither may be damaged, and
// into may not be open elsewhere (KindBusy), since a recording there could not be kept
// meanwhile. from stays as it is.
//
// No row bears a number that two books could share, since a book may have been copied and
// both used further. What makes a row the same one is what it says, as for Import: its clock,
// its time to the nanosecond, its value and its text. That survives an export, and the import
// of it elsewhere. Rows that a book holds several times are wanted as often in the other.
func Merge(ctx context.Context, into, from string, o Options) (m Merged, err error) {
	if into, err = filepath.Abs(into); err == nil {
		from, err = filepath.Abs(from)
	}
	if err != nil {
		return m, fail(into, "merging", err)
	}
	if isSame(into, from) {
		return m, inputError(into, "%s is the book itself: name another book", from)
	}
	src, err := openSource(ctx, from, Options{Log: o.Log})
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, src.Close()) }()
	if err := src.Lost(); err != nil {
		return m, err
	}
	if err := src.sound(ctx); err != nil {
		return m, err
	}
	b, err := openAlone(ctx, into, o)
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	kept := freeName(into + ".before-merge")
	if err := b.Backup(ctx, kept); err != nil { // which checks it too
		return m, err
	}
	m = Merged{Into: into, From: from, Copy: kept}
	err = b.write(ctx, "merging "+from, func(tx *sql.Tx) error {
		other, err := src.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
		if err != nil {
			return err
		}
		defer func() { _ = other.Rollback() }() // it was only read
		run := merging{into: b, from: src, tx: tx, other: other, photos: o.Photos, report: &m, ids: map[string]map[int64]int64{}}
		return run.all(ctx)
	})
	if err != nil || m.Added == 0 {
		m.Copy = ""
		err = errors.Join(err, remove(kept))
	}
	return m, err
}

// openAlone opens a book that no other program has open, and that holds all that was
// acknowledged.
func openAlone(ctx context.Context, path string, o Options) (*Book, error) {
	b, err := Open(ctx, path, o)
	if err != nil {
		return nil, err
	}
	if err := errors.Join(b.Lost(), b.Close()); err != nil {
		return nil, err // its log stays as it is
	}
	if err := notInUse(ctx, path, "merging into it"); err != nil {
		return nil, err
	}
	return Open(ctx, path, o)
}

// freeName returns the first name of the form name-1 that no file has.
func freeName(name string) string {
	for n := 1; ; n++ {
		if free := fmt.Sprintf("%s-%d", name, n); !exists(free) {
			return free
		}
	}
}

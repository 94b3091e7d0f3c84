package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
)

// backupPages is how many pages are copied before the context is asked again.
const backupPages = 1024

// Backup copies the book, as it is at this moment and while it may be written, to
// a new file at path. The copy is checked before it gets that name; a file that is
// there already is not overwritten (KindExists).
func (b *Book) Backup(ctx context.Context, path string) (err error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return fail(path, "backing up", err)
	}
	if exists(abs) {
		return alreadyThere(abs)
	}
	tmp, err := b.copyBeside(ctx, abs)
	if err != nil {
		return fail(b.path, "backing up to "+abs, err)
	}
	defer func() { err = errors.Join(err, remove(tmp)) }()
	if err := place(tmp, abs); errors.Is(err, fs.ErrExist) {
		return alreadyThere(abs)
	} else if err != nil {
		return fail(abs, "backing up", err)
	}
	return fail(abs, "backing up", syncFolder(filepath.Dir(abs)))
}

func alreadyThere(path string) error {
	return &Error{Path: path, Kind: KindExists, What: path + " is there already", Remedy: "name a new file"}
}

// copyBeside copies the book to a new file in path's folder, brings the copy to the newest
// layout and checks it.
func (b *Book) copyBeside(ctx context.Context, path string) (tmp string, err error) {
	made, err := tempName(path)
	if err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, remove(made), remove(made+"-wal"), remove(made+"-shm"))
		}
	}()
	conn, err := b.db.Conn(ctx)
	if err != nil {
		return "", err
	}
	// One transaction about all pages: else a write meanwhile would have the copy begin anew.
	err = snapshot(ctx, conn, func() error {
		return conn.Raw(func(c any) error { return copyPages(ctx, c.(driver.Conn).Raw(), made) })
	})
	if err := errors.Join(err, conn.Close()); err != nil {
		return "", err
	}
	h, err := readHeader(made)
	if err == nil && h.version < len(migrations()) {
		err = renewed(ctx, b.path, made)
	}
	if err != nil {
		return "", err
	}
	return made, verify(ctx, b.path, made)
}

// snapshot does f while the connection sees the book as it is now.
func snapshot(ctx context.Context, conn *sql.Conn, f func() error) (err error) {
	tx, err := conn.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, tx.Rollback()) }()
	var n int
	if err := tx.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&n); err != nil {
		return err // the first read is what begins it
	}
	return f()
}

// renewed brings a file that nobody else knows yet to the newest layout.
func renewed(ctx context.Context, name, at string) error {
	b, err := openAs(ctx, name, Options{at: at, alone: true})
	if err != nil {
		return err
	}
	return b.Close()
}

func copyPages(ctx context.Context, c *sqlite3.Conn, to string) (err error) {
	job, err := c.BackupInit("main", uri(to, ""))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, job.Close()) }()
	for {
		done, err := job.Step(backupPages)
		if done || err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
}

// verify has Check be the judge of a file that nobody else knows yet. Errors give it the
// name of the book that it was made from.
func verify(ctx context.Context, name, at string) (err error) {
	b, err := openAs(ctx, name, Options{ReadOnly: true, alone: true, at: at})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	return b.sound(ctx)
}

// sound returns an error of KindDamaged unless the whole book is sound.
func (b *Book) sound(ctx context.Context) error {
	r, err := b.Check(ctx)
	if err != nil {
		return err
	}
	if !r.OK() {
		return &Error{Path: b.path, Kind: KindDamaged, What: fmt.Sprintf("book %s is damaged: %s", b.path, r.Problems[0]), Remedy: "use another backup, or save what is whole with book salvage"}
	}
	return nil
}

// Restore puts a copy of the book at from in the place of the one at to, and
// returns the name under which that one is kept beside it ("" if there was none).
// The copy is brought to the newest layout and checked before it gets the name; the file
// at from stays as it is, with nothing beside it that wasn't there. A book that is open anywhere is not
// replaced (KindBusy); one too damaged to open is, and kept all the same.
func Restore(ctx context.Context, from, to string) (kept string, err error) {
	to, err = filepath.Abs(to)
	if err != nil {
		return "", fail(to, "restoring", err)
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return "", fail(to, "restoring", err)
	}
	if isSame(from, to) {
		return "", inputError(to, "%s is the book itself: name the backup that is to take its place", from)
	}
	src, err := openSource(ctx, from, Options{asIs: true})
	if err != nil {
		return "", err
	}
	tmp, err := src.copyBeside(ctx, to)
	if err := errors.Join(err, src.Close()); err != nil {
		return "", fail(src.path, "restoring", err)
	}
	defer func() { err = errors.Join(err, remove(tmp)) }()
	if exists(to) {
		if err := notInUse(ctx, to, "restoring over it"); err != nil {
			return "", err
		}
	}
	// Without a book too: a log that one left behind would be taken for the copy's.
	if kept, err = setAside(to); err != nil {
		return "", fail(to, "restoring", err)
	}
	if err := place(tmp, to); err != nil {
		return kept, fail(to, "restoring", err)
	}
	return kept, fail(to, "restoring", syncFolder(filepath.Dir(to)))
}

// openSource opens a book that is only read from. While another program has it open, or it
// has a log, a reader would leave files beside it, and a writer clears up.
func openSource(ctx context.Context, path string, o Options) (*Book, error) {
	o.ReadOnly, o.Reading = unheld(path), true
	b, err := Open(ctx, path, o)
	if e, ok := errors.AsType[*Error](err); ok && (e.Kind == KindMissing || e.Kind == KindNotABook) {
		e.Remedy = "name the file of a book" // what --book names is another
	}
	return b, err
}

func isSame(a, b string) bool {
	x, err := os.Stat(a)
	y, err2 := os.Stat(b)
	return err == nil && err2 == nil && os.SameFile(x, y)
}

// notInUse opens the book alone: SQLite grants that to no one while another
// connection is open. It also folds the write-ahead log into the file.
func notInUse(ctx context.Context, path, doing string) (err error) {
	h, err := readHeader(path)
	if err != nil {
		return fail(path, doing, err)
	}
	if !h.sqlite || h.app != ApplicationID {
		return nil // not to be opened at all, so nobody has
	}
	db, err := driver.Open(uri(path, "mode=rw&_pragma=busy_timeout(0)&_pragma=locking_mode(exclusive)"))
	if err != nil {
		return fail(path, doing, err)
	}
	defer func() { err = errors.Join(err, fail(path, doing, db.Close())) }()
	tx, err := db.BeginTx(ctx, nil)
	if err == nil {
		err = tx.Rollback()
	}
	if e := fail(path, doing, err); e != nil {
		if _, damaged := asDamaged(e); !damaged {
			return e
		}
	}
	return nil
}

func asDamaged(err error) (*Error, bool) {
	e, ok := errors.AsType[*Error](err)
	return e, ok && e.Kind == KindDamaged
}

// setAside renames the book, and what lies beside it, to the first free name of the form
// book.db.replaced-1. It returns that name, "" if there was no book.
func setAside(path string) (kept string, err error) {
	to := ""
	for n := 1; to == "" || exists(to) || exists(to+"-wal"); n++ {
		to = fmt.Sprintf("%s.replaced-%d", path, n)
	}
	for _, more := range []string{"", "-wal", "-shm", "-journal", tallySuffix} {
		err := os.Rename(path+more, to+more)
		if err == nil && more == "" {
			kept = to
		} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return kept, err
		}
	}
	return kept, nil
}

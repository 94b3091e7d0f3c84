package book

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	"github.com/ncruces/go-sqlite3"
)

// openUnwritable opens a book that may not be written where it lies.
func openUnwritable(ctx context.Context, path string, o Options) (*Book, error) {
	o.ReadOnly = true
	b, err := openAs(ctx, path, o)
	if !isReadOnly(err) && !errors.Is(err, sqlite3.CANTOPEN) {
		return b, err
	}
	dir, err := os.MkdirTemp("", "evenbeat-*")
	if err != nil {
		return nil, fail(path, "copying it to read the copy", err)
	}
	o.ReadOnly, o.at = false, filepath.Join(dir, "book.db")
	if err = fail(path, "copying it to read the copy", copyStill(path, o.at)); err == nil {
		b, err = openAs(ctx, path, o)
	}
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	b.scratch = dir
	return b, nil
}

func isReadOnly(err error) bool {
	e, ok := errors.AsType[*Error](err)
	return ok && e.Kind == KindReadOnly
}

// mayNotWrite reports whether the system refused to write: by permissions, or because the
// whole file system is read-only.
func mayNotWrite(err error) bool {
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) {
		return true
	}
	no, ok := errors.AsType[syscall.Errno](err)
	return ok && runtime.GOOS == "windows" && no == 19 // ERROR_WRITE_PROTECT, a name of Windows alone
}

// unheld reports whether the file at path is all there is of a book: nothing is in its
// log, and no program has it open, as each that does keeps the log's index beside it.
func unheld(path string) bool {
	return empty(path+"-wal") && !exists(path+"-shm")
}

// wasStill returns an error if a book that was taken to be still has changed since it was
// opened.
func (b *Book) wasStill() error {
	st, err := os.Stat(b.path)
	if err != nil {
		return fail(b.path, "closing", err)
	}
	if unheld(b.path) && same(st, b.file.id) {
		return nil
	}
	return movedMeanwhile(b.path)
}

func movedMeanwhile(path string) error {
	return &Error{Path: path, Kind: KindBusy, What: "book " + path + ": another program wrote to it while it was read",
		Remedy: "what was read of it may be mixed up: do it again"}
}

func same(a, b fs.FileInfo) bool {
	return a.Size() == b.Size() && a.ModTime().Equal(b.ModTime())
}

// copyStill copies a book and its log, byte by byte, and sees to it that neither is
// written to meanwhile.
func copyStill(from, to string) error {
	for _, more := range []string{"", "-wal"} {
		before, err := os.Stat(from + more)
		if errors.Is(err, fs.ErrNotExist) && more != "" {
			continue
		}
		if err == nil {
			err = copyFile(from+more, to+more)
		}
		if err != nil {
			return err
		}
		if after, err := os.Stat(from + more); err != nil || !same(before, after) {
			return movedMeanwhile(from)
		}
	}
	return nil
}

func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	if _, err := io.Copy(out, in); err != nil {
		return fmt.Errorf("to %s: %w", filepath.Dir(to), err)
	}
	return nil
}

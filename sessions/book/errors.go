package book

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"

	"github.com/ncruces/go-sqlite3"
)

// Kind tells what stands between the caller and the book.
type Kind string

// The kinds of error.
const (
	KindMissing   Kind = "missing"    // there is no such file, and none was to be made
	KindNotABook  Kind = "not a book" // another program's file, or no database at all
	KindNewer     Kind = "newer"      // made by a newer version of the program
	KindDamaged   Kind = "damaged"    // a book once, but its bytes are broken
	KindBusy      Kind = "busy"       // another program holds it
	KindFull      Kind = "full"       // the disk is full
	KindGone      Kind = "gone"       // deleted, replaced or cut short while it was open
	KindReadOnly  Kind = "read-only"  // the file or its folder may not be written
	KindExists    Kind = "exists"     // a file is there that won't be overwritten
	KindDuplicate Kind = "duplicate"  // the name is taken
	KindUnknown   Kind = "unknown"    // no such clock, session or reading
	KindInput     Kind = "input"      // a value that can't be recorded
	KindFailed    Kind = "failed"     // the system refused, for another reason
)

// Error is every error of a book but a context's end: what is wrong, in words,
// and what mends it.
type Error struct {
	Path   string // of the book
	Kind   Kind
	What   string // thing and value
	Remedy string // what to do
	Err    error  // cause; nil if What says all
}

// Error returns one line: what is wrong, then what to do.
func (e *Error) Error() string {
	if e.Remedy == "" {
		return e.What
	}
	return e.What + ": " + e.Remedy
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// CallersFault reports whether the call itself was wrong (a file that is no book,
// a name that is taken), rather than the machine or the file failing.
func (e *Error) CallersFault() bool {
	switch e.Kind {
	case KindMissing, KindNotABook, KindNewer, KindExists, KindDuplicate, KindUnknown, KindInput:
		return true
	}
	return false
}

// damageRemedy is what to do about a damaged book.
const damageRemedy = "restore a backup with book restore, or save what is whole with book salvage"

// fail turns what SQLite or the system said into an Error. doing says what was
// tried, in the caller's words.
func fail(path, doing string, err error) error {
	if err == nil {
		return nil
	}
	if _, ok := errors.AsType[*Error](err); ok {
		return err
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%s: %w", doing, err)
	}
	if errors.Is(err, sqlite3.INTERRUPT) {
		// The driver interrupts SQLite only for a context that ended, and which of the
		// two errors comes back first is chance: callers hear the context's.
		return fmt.Errorf("%s: %w (%w)", doing, context.Canceled, err)
	}
	e := &Error{Path: path, Kind: KindFailed, Err: err}
	about := "book " + path + ": " + doing
	switch {
	case errors.Is(err, sqlite3.IOERR_DATA):
		e.Kind, e.What, e.Remedy = KindDamaged, about+": a page of the file is damaged, or another program wrote to it", damageRemedy
	case full(path, err):
		e.Kind, e.What, e.Remedy = KindFull, about+": disk full", "make room, then go on; nothing is half-written"
	case errors.Is(err, sqlite3.BUSY), errors.Is(err, sqlite3.LOCKED):
		e.Kind, e.What, e.Remedy = KindBusy, about+": another program holds the book", "close it there, or wait and try again"
	case errors.Is(err, sqlite3.CORRUPT), errors.Is(err, sqlite3.NOTADB):
		e.Kind, e.What, e.Remedy = KindDamaged, about+": the file is damaged", damageRemedy
	case errors.Is(err, sqlite3.READONLY), mayNotWrite(err), errors.Is(err, sqlite3.PERM), errors.Is(err, sqlite3.AUTH):
		e.Kind, e.What, e.Remedy = KindReadOnly, about+": the file or its folder may not be written", "change their permissions, or name another book"
	default:
		e.What = fmt.Sprintf("%s: %s", about, strings.NewReplacer("invalid _pragma: ", "", "sqlite3: ", "").Replace(err.Error()))
	}
	return e
}

// full: SQLite's FULL, or an input/output error while the disk has no room. The
// driver's (v0.37.0) own test for that misses the system's error, which comes to it
// wrapped, so the disk is asked.
func full(path string, err error) bool {
	if errors.Is(err, sqlite3.FULL) || noSpace(err) {
		return true
	}
	if !errors.Is(err, sqlite3.IOERR) && !errors.Is(err, sqlite3.CANTOPEN) {
		return false
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".evenbeat-try-*")
	if err != nil {
		return noSpace(err)
	}
	_, err = f.Write(make([]byte, 1<<16)) // a few pages, and the log's index
	return noSpace(errors.Join(err, f.Close(), os.Remove(f.Name())))
}

func noSpace(err error) bool {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
		return true
	}
	// ERROR_HANDLE_DISK_FULL and ERROR_DISK_FULL, by number: the names exist on
	// Windows alone.
	no, ok := errors.AsType[syscall.Errno](err)
	return ok && runtime.GOOS == "windows" && (no == 39 || no == 112)
}

func inputError(path, format string, args ...any) error {
	return &Error{Path: path, Kind: KindInput, What: fmt.Sprintf(format, args...)}
}

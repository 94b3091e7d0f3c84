package book

import (
	"path/filepath"
	"syscall"
	"testing"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/vfs"

	"evenbeat/sessions"
)

// A full disk is told as one, nothing is half-written, and with room again the same
// open book goes on.
func TestDiskFull(t *testing.T) {
	path := newBook(t).path
	d := newDisk(t, filepath.Dir(path))
	b := open(t, path, Options{vfs: d.name})
	c := addClock(t, b, "Hall clock")
	add := func() error {
		_, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon})
		return err
	}
	if err := add(); err != nil {
		t.Fatal(err)
	}
	d.full = vfs.SystemError(syscall.ENOSPC, sqlite3.FULL)
	err := add()
	if want := "book " + b.path + ": recording a check: disk full: make room, then go on; nothing is half-written"; kindOf(err) != KindFull || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	// An input/output error with room on the disk is not called a full one.
	d.full = syscall.EIO
	if err := add(); kindOf(err) != KindFailed {
		t.Errorf("broken disk: got %v", err)
	}
	d.full = nil
	if err := add(); err != nil {
		t.Errorf("with room again: %v", err)
	}
	sound(t, b)
	if r, err := b.Record(t.Context(), c.ID); err != nil || len(r.Checks) != 2 {
		t.Errorf("%d checks, %v; want 2", len(r.Checks), err)
	}
}

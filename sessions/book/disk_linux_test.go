package book

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"evenbeat/sessions"
)

// smallDisk mounts a real file system of so many KiB.
func smallDisk(t *testing.T, size int) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%dk", size)); err != nil {
		t.Skip("needs the right to mount a small disk: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// A disk too small for a new book, wherever it runs full: that is told, nothing is
// left of the book, and never half a book under its name.
func TestTooSmallDisk(t *testing.T) {
	for size := 16; size <= 464; size += 16 {
		dir := smallDisk(t, size)
		b, err := Open(t.Context(), filepath.Join(dir, "book.db"), Options{Create: true})
		if err == nil {
			if err := b.Close(); err != nil {
				t.Error(err)
			}
			continue
		}
		if left := files(t, dir); kindOf(err) != KindFull || len(left) > 0 && !exists(filepath.Join(dir, "book.db")) {
			t.Errorf("%d KiB: got %v (%s), left %v", size, err, kindOf(err), left)
		}
	}
}

// A real file system of 490 KiB that runs full under a book.
func TestSmallDisk(t *testing.T) {
	dir := smallDisk(t, 490)
	path := filepath.Join(dir, "book.db")
	b, err := Open(t.Context(), path, Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	c := addClock(t, b, "Hall clock")
	kept := 0
	for err == nil {
		if _, err = b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon}); err == nil {
			kept++
		}
	}
	if kindOf(err) != KindFull || kept == 0 {
		t.Errorf("after %d checks: %v", kept, err)
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	// What is left is filled up: now nothing can be added to the book, nor one made.
	fill := filepath.Join(dir, "fill")
	if err := os.WriteFile(fill, make([]byte, 490<<10), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(err)
	}
	for _, p := range []string{path, filepath.Join(dir, "other.db")} {
		b, err := Open(t.Context(), p, Options{Create: true})
		if err == nil {
			_, err = b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon})
			err = errors.Join(err, b.Close())
		}
		if kindOf(err) != KindFull {
			t.Errorf("%s: got %v", p, err)
		}
	}
	if err := os.Remove(fill); err != nil {
		t.Fatal(err)
	}
	for _, name := range files(t, dir) {
		if !strings.HasPrefix(name, "book.db") { // its log and the log's index may stay
			t.Errorf("left behind: %s", name)
		}
	}
	b = open(t, path, Options{})
	sound(t, b)
	if r, err := b.Record(t.Context(), c.ID); err != nil || len(r.Checks) != kept {
		t.Errorf("%d checks, %v; want %d", len(r.Checks), err, kept)
	}
}

// asNobody runs f in a thread of its own. Where the test is started as root, whom no
// permission stops, that thread has the identity of nobody.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	done := make(chan struct{})
	go func() {
		defer close(done)
		if os.Geteuid() == 0 {
			runtime.LockOSThread() // and never let go: the thread ends with its changed identity
			if err := syscall.Setfsuid(65534); err != nil {
				t.Error(err)
				return
			}
		}
		f()
	}()
	<-done
}

// In a folder that may not be written a closed book can still be read, and what
// can't be done is told as such.
func TestFolderReadOnly(t *testing.T) {
	path := closedBook(t)
	dir := filepath.Dir(path)
	if err := errors.Join(os.Chmod(path, 0o444), os.Chmod(dir, 0o555), os.Chmod(filepath.Dir(dir), 0o755)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.Chmod(dir, 0o755); err != nil {
			t.Error(err)
		}
	})
	before := files(t, dir)
	asNobody(t, func() {
		b, err := Open(t.Context(), path, Options{ReadOnly: true})
		if err != nil {
			t.Error(err)
			return
		}
		if c, err := b.Clocks(t.Context()); err != nil || len(c) != 1 {
			t.Errorf("%v, %v", c, err)
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
		if _, err := Open(t.Context(), path, Options{}); kindOf(err) != KindReadOnly {
			t.Errorf("for writing: got %v (%s)", err, kindOf(err))
		}
		if _, err := Open(t.Context(), filepath.Join(dir, "other.db"), Options{Create: true}); kindOf(err) != KindReadOnly {
			t.Errorf("a new one: got %v (%s)", err, kindOf(err))
		}
	})
	if got := files(t, dir); len(got) != len(before) {
		t.Errorf("left behind: %v", got)
	}
}

package book

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenbeat/sessions"
)

// A book that was deleted, replaced or cut short beneath an open one acknowledges
// nothing more, and goes on once the same file is back.
func TestGoneBeneath(t *testing.T) {
	for name, c := range map[string]struct {
		says string
		do   func(path string) error
		back func(path string) error
	}{
		"deleted": {says: "deleted or renamed", do: os.Remove},
		"renamed": {"deleted or renamed",
			func(path string) error { return os.Rename(path, path+".away") },
			func(path string) error { return os.Rename(path+".away", path) }},
		"replaced": {"replaced by another",
			func(path string) error {
				return errors.Join(os.Rename(path, path+".away"), copyFile(path+".away", path))
			},
			func(path string) error { return os.Rename(path+".away", path) }},
		"cut short": {says: "cut short", do: func(path string) error { return os.Truncate(path, 8192) }},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBook(t)
			clock := addClock(t, b, "Hall clock").ID
			ses := startSession(t, b, clock, sessions.SessionTime)
			add := func() error { return b.AppendBeats(t.Context(), ses, sensor(1, 10)) }
			if err := add(); err != nil {
				t.Fatal(err)
			}
			if err := c.do(b.path); err != nil {
				t.Fatal(err)
			}
			for range 2 {
				if err := add(); kindOf(err) != KindGone || !strings.Contains(err.Error(), c.says) {
					t.Errorf("got %v, want that the file was %s", err, c.says)
				}
			}
			if c.back == nil {
				return
			}
			if err := c.back(b.path); err != nil {
				t.Fatal(err)
			}
			if err := add(); err != nil {
				t.Errorf("with the file back: %v", err)
			}
			if n, err := b.BeatCount(t.Context(), ses); err != nil || n != 20 {
				t.Errorf("%d beats, %v; want the 20 that were acknowledged", n, err)
			}
			sound(t, b)
		})
	}
}

// What a checkpoint copied is in the book's file alone, without its log.
func TestCheckpoint(t *testing.T) {
	b := newBook(t)
	ses := startSession(t, b, addClock(t, b, "Hall clock").ID, sessions.SessionTime)
	for n := range 3 {
		if err := b.AppendBeats(t.Context(), ses, sensor(1, 10)); err != nil {
			t.Fatal(err)
		}
		if n < 2 {
			if err := b.Checkpoint(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	}
	copied := filepath.Join(t.TempDir(), "copy.db")
	if err := copyFile(b.path, copied); err != nil {
		t.Fatal(err)
	}
	c := open(t, copied, Options{ReadOnly: true})
	sound(t, c)
	if n, err := c.BeatCount(t.Context(), ses); err != nil || n != 20 {
		t.Errorf("the copy holds %d beats, %v; want the 20 before the last checkpoint", n, err)
	}
}

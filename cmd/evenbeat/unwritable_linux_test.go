package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// Every command that only reads answers from a book on a disk that is mounted read-only as
// it does elsewhere, and those that write are refused. A book of an older layout is read too.
func TestReadOnlyDisk(t *testing.T) {
	made, err := newDemoBook(t)()
	if err != nil {
		t.Fatal(err)
	}
	old, err := os.ReadFile("../../testdata/books/layout4.db")
	if err != nil {
		t.Fatal(err)
	}
	here, there := t.TempDir(), t.TempDir()
	for _, dir := range []string{here, there} {
		err := errors.Join(os.WriteFile(filepath.Join(dir, "book.db"), made, 0o600), os.WriteFile(filepath.Join(dir, "old.db"), old, 0o600))
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := syscall.Mount(there, there, "", syscall.MS_BIND, ""); err != nil {
		t.Skip("needs the right to mount a folder read-only: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(there, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	if err := syscall.Mount("", there, "", syscall.MS_BIND|syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	out := t.TempDir()
	answer := func(dir, book, command string) (status int, said string) {
		var both bytes.Buffer
		args := strings.Fields(strings.ReplaceAll(command, "OUT", filepath.Join(out, "out")))
		status = run(context.Background(), append(args, "--book", filepath.Join(dir, book)), []string{"HOME=" + out, "TZ=UTC"}, strings.NewReader(""), &both, &both)
		return status, strings.ReplaceAll(both.String(), dir, "DIR")
	}
	for _, command := range []string{
		"clock list", "clock show", "spring", "fit", "rate", "stability", "going", "record readings", "record sessions",
		"plot going --out OUT.svg", "sheet --out OUT.html", "export --what all --out OUT.json", "book check", "doctor",
	} {
		want, said := answer(here, "book.db", command)
		if got, now := answer(there, "book.db", command); got != want || now != said {
			t.Errorf("%s: status %d, want %d:\n%s\nwant\n%s", command, got, want, now, said)
		}
	}
	if status, said := answer(there, "book.db", "book backup OUT.db"); status != 0 {
		t.Errorf("book backup: status %d: %s", status, said)
	}
	for _, command := range []string{
		"book restore OUT.db", "note --kind wound", "check --error 1s --yes", "clock add New", "clock edit --rod wood", "undo check 1", "measure --port -",
	} {
		if status, said := answer(there, "book.db", command); status != 1 || !strings.Contains(said, "may not be written") {
			t.Errorf("%s: status %d, want 1: %s", command, status, said)
		}
	}
	for _, command := range []string{"record readings", "clock list", "book check"} {
		if status, said := answer(there, "old.db", command); status != 0 {
			t.Errorf("%s of an older layout: status %d: %s", command, status, said)
		}
	}
	if all, err := os.ReadDir(there); err != nil || len(all) != 2 {
		t.Errorf("beside the books lie %v, %v", all, err)
	}
}

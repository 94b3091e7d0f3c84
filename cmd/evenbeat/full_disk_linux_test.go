package main

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"evenbeat/sessions/book"
	"evenbeat/sessions/recorder"
)

// smallDisk mounts a real file system of 1 MiB.
func smallDisk(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skip("needs the right to mount a small disk: ", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return dir
}

// A disk runs full under a book into which one program times and another measures. Both
// say so in one line, wait, and go on when there is room; what the disk had no room for is
// in the book at the end, once and in order, and so is the pause.
func TestFullDisk(t *testing.T) {
	disk := smallDisk(t)
	w := newWorkshop(t, disk)
	w.time(t)
	w.measure(t)
	t.Cleanup(func() { w.killAll(t) })
	for _, p := range w.programs {
		p.start(t, w)
	}
	await := func(text string) {
		w.await(t, func() bool { return !slices.ContainsFunc(w.programs, func(p *recording) bool { return !p.said(text) }) })
	}
	await(" opened ")
	fill := filepath.Join(disk, "fill")
	for _, p := range w.programs {
		w.sendHeard(t, p, 20)
	}
	if err := os.WriteFile(fill, make([]byte, 1<<20), 0o600); !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(err)
	}
	for _, p := range w.programs {
		for !w.sees(func() bool { return p.said("! recording waits for room") }) {
			w.sendHeard(t, p, 20)
		}
		w.sendHeard(t, p, 400)
	}
	if err := os.Remove(fill); err != nil {
		t.Fatal(err)
	}
	await("the disk was full for ")
	for _, p := range w.programs {
		w.sendHeard(t, p, 5)
	}
	for _, p := range w.programs {
		if err := w.end(p, os.Interrupt); err != nil {
			t.Errorf("%v: %v, having said:\n%s", p.args, err, &p.other)
		}
		told := 0
		for line := range strings.Lines(p.other.String()) {
			if strings.HasPrefix(line, "  ! recording waits for room") {
				told++
				if !strings.HasSuffix(line, ": disk full: make room, then go on; nothing is half-written\n") {
					t.Errorf("%v said %q", p.args, line)
				}
			}
		}
		if told != 1 {
			t.Errorf("%v said %d times that it waits for room", p.args, told)
		}
	}
	w.judge(t, w.programs)
	b, err := book.Open(t.Context(), w.book, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	for _, p := range w.programs {
		ses, err := b.Session(t.Context(), p.session)
		got, gerr := p.listens[0].in(t.Context(), b, ses)
		faults, ferr := b.Faults(t.Context(), p.session)
		if err := errors.Join(err, gerr, ferr); err != nil || len(got) != int(p.listens[0].sent) {
			t.Errorf("%v: %d lines of %d in the book, %v", p.args, len(got), p.listens[0].sent, err)
		}
		if len(faults) == 0 || faults[0].Kind != string(recorder.Paused) || ses.Ended.IsZero() {
			t.Errorf("%v: faults %+v, ended %v; want a pause in an ended session", p.args, faults, ses.Ended)
		}
	}
}

// sendHeard sends n lines to the program, and waits until it has received them.
func (w *workshop) sendHeard(t *testing.T, p *recording, n int) {
	t.Helper()
	s := p.listens[0]
	for range n {
		if err := s.send(); err != nil {
			t.Fatal(err)
		}
	}
	w.await(t, func() bool { return len(p.heard[s]) == int(s.sent) })
}

func (p *recording) said(text string) bool { return strings.Contains(p.other.String(), text) }

func (w *workshop) sees(holds func() bool) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return holds()
}

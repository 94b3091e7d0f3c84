//go:build unix

package main

import (
	"errors"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// killsWanted names the variable of the environment that says how often programs are
// killed.
const killsWanted = "EVENBEAT_KILLS"

// Five beat sensors, a receiver of time and two calipers, on eight pseudo-terminals, are
// recorded into one book by seven programs. All of them, or one, are killed again and
// again, at moments that the seed says. What a program said is in the book is there, in
// order and once, and so is whatever it had received a second before it was killed.
func TestKilledWithEightInstruments(t *testing.T) {
	modest := 8
	if testing.Short() {
		modest = 4
	}
	kills := wanted(t, killsWanted, modest)
	w := newWorkshop(t, t.TempDir())
	if os.Getenv(killsWanted) == "" {
		w.within *= 2 // other tests share disk and processors
	}
	w.timeByReference(t)
	for range 4 {
		w.time(t)
	}
	w.measure(t)
	w.measure(t)
	w.sendOn(t)
	rng := rand.New(rand.NewPCG(1, 8)) // the seed is all one needs to see a failure again
	t.Cleanup(func() { w.killAll(t) })
	for n := range kills {
		for _, p := range w.programs {
			if p.cmd == nil {
				p.start(t, w)
			}
		}
		if n%4 > 0 { // else they may still be opening ports and the book
			w.await(t, func() bool { return !slices.ContainsFunc(w.programs, (*recording).deaf) })
		}
		until := w.said() + 1 + rng.IntN(300)
		w.await(t, func() bool { return w.lines >= until })
		victims := w.programs
		if rng.IntN(2) == 0 {
			victims = w.programs[rng.IntN(len(w.programs)):][:1]
		}
		for _, p := range victims {
			w.kill(t, p)
		}
		w.judge(t, victims)
		if t.Failed() {
			t.Fatalf("kill %d", n+1)
		}
	}
	w.judge(t, w.killAll(t))
	t.Logf("%d kills of %d programs: %d lines were received by those killed, %d said to be in the book, %d found there; %d received less than a second before were lost",
		kills, w.killed, w.sum.heard, w.sum.acked, w.sum.found, w.sum.heard-w.sum.found)
}

// killAll kills the programs that run, and returns them.
func (w *workshop) killAll(t *testing.T) (killed []*recording) {
	t.Helper()
	for _, p := range w.programs {
		if p.cmd != nil {
			w.kill(t, p)
			killed = append(killed, p)
		}
	}
	return killed
}

// judge holds what is in the book against what the programs that were killed had received
// and said.
func (w *workshop) judge(t *testing.T, killed []*recording) {
	t.Helper()
	b, err := book.Open(t.Context(), w.book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range killed {
		w.sessionOf(t, b, p)
	}
	r, err := b.Check(t.Context())
	if err := errors.Join(err, b.Close()); err != nil || !r.OK() {
		t.Errorf("check: %q, %v", r.Problems, err)
	}
}

// sessionOf judges the session that the program began, if it came so far.
func (w *workshop) sessionOf(t *testing.T, b *book.Book, p *recording) {
	t.Helper()
	c, err := b.ClockByName(t.Context(), p.clock)
	if err != nil {
		t.Fatal(err)
	}
	all, err := b.Sessions(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	all = slices.DeleteFunc(all, func(s sessions.Session) bool { return s.ID <= p.session })
	if len(all) > 1 {
		t.Errorf("%s: %d sessions of one program", p.clock, len(all))
	}
	for _, s := range p.listens {
		var got []string
		for _, ses := range all {
			if got, err = s.in(t.Context(), b, ses); err != nil {
				t.Fatal(err)
			}
			p.session = ses.ID
		}
		w.held(t, p, s, got)
	}
}

// held judges what is in the book of one instrument.
func (w *workshop) held(t *testing.T, p *recording, s *sending, got []string) {
	t.Helper()
	heard := p.heard[s]
	old := 0
	for old < len(heard) && heard[old].mono <= p.last-int64(w.within) {
		old++
	}
	if len(got) < p.acked[s] {
		t.Errorf("%v: %d lines said to be in the book, %d are", p.args, p.acked[s], len(got))
	}
	if len(got) < old {
		t.Errorf("%v: %d lines in the book, %d were received %s before the end", p.args, len(got), old, w.within)
	}
	for i, text := range got {
		if i >= len(heard) || heard[i].text != text {
			t.Fatalf("%v: line %d in the book is %q, received were %v", p.args, i+1, text, heard)
		}
	}
	w.sum.heard, w.sum.acked, w.sum.found = w.sum.heard+len(heard), w.sum.acked+p.acked[s], w.sum.found+len(got)
}

package main

import (
	"io"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evenbeat/cmd/evenbeat/internal/demo"
	"evenbeat/devices/simulate"
	"evenbeat/plots"
	"evenbeat/sessions/book"
)

// TestDemoFindsTheTruth plays the demo's scene for 20 clocks and counts how many of
// its 95 % intervals hold the simulation's truth: at least what a binomial count of
// that share gives, less three standard deviations. No verdict may be wrong.
func TestDemoFindsTheTruth(t *testing.T) {
	seeds := uint64(20)
	if testing.Short() {
		seeds = 4
	}
	held, all := 0, 0
	for seed := uint64(1); seed <= seeds; seed++ {
		s, f := playDemo(t, seed)
		for _, c := range s.Compare(f) {
			all++
			if c.Holds {
				held++
				continue
			}
			t.Logf("seed %d: %s: found %g ± %g %s, truth %g", seed, c.What, c.Found, c.Half, c.Unit, c.Truth)
		}
		if f.Spring == nil || s.Judge(f.Spring.Verdict) == "wrong" {
			t.Errorf("seed %d: verdict %+v, truth %s", seed, f.Spring, s.TrueVerdict())
		}
	}
	n := float64(all)
	if least := 0.95*n - 3*math.Sqrt(n*0.95*0.05); float64(held) < least {
		t.Errorf("%d of %d intervals hold the truth, want at least %.0f", held, all, least)
	}
	if want := int(seeds) * 11; all < want {
		t.Errorf("%d findings to compare, want at least %d", all, want)
	}
	t.Logf("%d of %d intervals hold the truth", held, all)
}

func playDemo(t *testing.T, seed uint64) (*demo.Scene, plots.Findings) {
	t.Helper()
	a := &app{in: strings.NewReader(""), out: io.Discard, err: io.Discard, now: time.Now, changed: map[string]string{}}
	if err := a.prepare(newRoot(a)); err != nil {
		t.Fatal(err)
	}
	a.loaded.Settings.Book = filepath.Join(t.TempDir(), "book.db")
	sc, err := simulate.NewScenario(seed, 7)
	if err != nil {
		t.Fatal(err)
	}
	s, err := demo.New(a.bench(), sc)
	if err != nil {
		t.Fatal(err)
	}
	var f plots.Findings
	err = a.withBook(t.Context(), making, func(b *book.Book) error {
		clock, err := s.Play(t.Context(), b, a.say)
		if err != nil {
			return err
		}
		f, err = a.gather(t.Context(), b, clock)
		return err
	})
	if err != nil {
		t.Fatalf("seed %d: %v", seed, err)
	}
	return s, f
}

package beat

import (
	"errors"
	"math"
	"testing"
)

// analyse runs events through an Analyser by their count of microseconds.
func analyse(t testing.TB, o Options, ev []event) Result {
	t.Helper()
	o.CountRate, o.CountBits = 1e6, 32
	a, err := NewAnalyser(o)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range ev {
		a.AddCount(uint64(math.Floor(e.t*1e6))&0xffffffff, 0, false)
	}
	a.Close()
	r, err := a.Result()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The beat error must come within 20 µs of the truth for ten minutes with 80 µs of
// jitter, also where beats are missed and the rate wanders.
func TestBeatErrorInTenMinutes(t *testing.T) {
	held := 0
	for seed := range uint64(200) {
		c := clock{interval: 0.5, beats: 1200, jitter: 80e-6, offset: 0.0042, walk: 30, missed: 0.05, spurious: 0.02, rate: -40, seed: seed}
		ev, _, _ := c.hear()
		r := analyse(t, Options{NominalInterval: 0.5}, ev)
		if off := math.Abs(r.BeatError.V - 0.0021); off > 20e-6 {
			t.Errorf("seed %d: beat error %v, want 0.0021 within 20 µs", seed, r.BeatError)
		}
		// Which of the two is called even isn't known.
		if r.TickTock.Half95() > 0 && math.Abs(math.Abs(r.TickTock.V)-0.0042) < r.TickTock.Half95() {
			held++
		}
	}
	if held < 180 || held > 199 { // binomial, 200 at 95 %: 190 ± 3.1, three sd each way
		t.Errorf("%d of 200 intervals hold the truth, want 181 to 199", held)
	}
}

func TestTooFew(t *testing.T) {
	a, err := NewAnalyser(Options{NominalInterval: 1, CountRate: 1e6})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 5 {
		a.AddCount(uint64(i*1e6), 0, false)
	}
	_, err = a.Result()
	e, ok := errors.AsType[*TooFewError](err)
	if !ok || e.Events != 5 {
		t.Fatalf("five beats: error %v, want a TooFewError that counts five", err)
	}
	for events, want := range map[int64]string{
		1:  "1 event is too few: at least 10 beats are needed, and ten minutes make a good figure",
		5:  "5 events are too few: at least 10 beats are needed, and ten minutes make a good figure",
		14: "14 events hold too few beats in step: listen longer, ten minutes make a good figure",
	} {
		e.Events = events
		if err.Error() != want {
			t.Errorf("got %q, want %q", err, want)
		}
	}
}

// Asked each time, from the first beat on, the answer of the growing run is never
// no number, and its interval closes in.
func TestResultAsTheRunGrows(t *testing.T) {
	c := clock{interval: 0.5, beats: 1200, jitter: 1e-3, offset: 0.004, missed: 0.02, spurious: 0.02, rate: 30, seed: 3}
	ev, _, _ := c.hear()
	a, err := NewAnalyser(Options{NominalInterval: 0.5, CountRate: 1e6, Arbors: []Arbor{{Index: 1, Name: "escape", BeatsPerTurn: 60}}})
	if err != nil {
		t.Fatal(err)
	}
	whole := analyse(t, Options{NominalInterval: 0.5, Arbors: []Arbor{{Index: 1, Name: "escape", BeatsPerTurn: 60}}}, ev)
	var last Result
	answers := 0
	for i, e := range ev {
		a.AddCount(uint64(e.t*1e6), 0, false)
		r, err := a.Result()
		if err != nil {
			if i > 30 {
				t.Fatalf("after %d events: %v", i+1, err)
			}
			continue
		}
		answers++
		if !r.Rate.Finite() || r.Rate.High95() <= r.Rate.Low95() {
			t.Fatalf("after %d events: rate %+v", i+1, r.Rate)
		}
		if i == 60 && r.Rate.High95()-r.Rate.Low95() < 5*(whole.Rate.High95()-whole.Rate.Low95()) {
			t.Errorf("the interval after 60 events, %v, is hardly wider than at the end", r.Rate)
		}
		last = r
	}
	if answers < len(ev)-30 {
		t.Errorf("%d answers for %d events", answers, len(ev))
	}
	a.Close()
	if last, err = a.Result(); err != nil {
		t.Fatal(err)
	}
	if last.Beats != whole.Beats || last.Missed != whole.Missed || math.Abs(last.Rate.V-whole.Rate.V) > 1e-6 {
		t.Errorf("asked 1200 times: %d beats, %d missed, rate %v; asked once: %d, %d, %v", last.Beats, last.Missed, last.Rate, whole.Beats, whole.Missed, whole.Rate)
	}
}

package analysis

import (
	"iter"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"evenbeat/sessions"
)

// brokenRun is a clock of half seconds that gains a true rate, timed by a sensor that is
// off by so many parts in a million. Power cuts break it into sessions; the computer's clock
// is set anew after each, by a second or two.
func brokenRun(rng *rand.Rand, lengths []float64, rate, ppm float64) (all []sessions.Session, beats map[int64][]sessions.Beat) {
	beats = map[int64][]sessions.Beat{}
	interval := 0.5 / (1 + rate/86400)
	const epoch = int64(1_700_000_000_000_000_000)
	at, set := 0.0, 0.0
	for i, long := range lengths {
		id := int64(i + 3)
		start := at
		for ; at < start+long; at += interval {
			t := at + rng.NormFloat64()*1e-4
			mono := int64((at - start + 3e-4 + 2e-4*rng.Float64()) * 1e9)
			beats[id] = append(beats[id], sessions.Beat{Count: uint64((t - start + 1) * (1 + ppm*1e-6) * 1e6), HostMono: mono,
				HostUTC: epoch + int64((start+set)*1e9) + mono})
		}
		zero := beats[id][0].HostMono // a session's stamps begin at its first beat
		for j := range beats[id] {
			beats[id][j].HostMono -= zero
		}
		all = append(all, sessions.Session{ID: id, Kind: sessions.SessionTime, Profile: "beat-counter", Port: "p", Started: time.Unix(0, epoch+int64(start*1e9)),
			Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostKnown: true, HostSynced: true}})
		at += 60 + 600*rng.Float64()
		set += rng.Float64() - 0.5
	}
	return all, beats
}

func walk(beats map[int64][]sessions.Beat) func(int64) iter.Seq2[[]sessions.Beat, error] {
	return func(id int64) iter.Seq2[[]sessions.Beat, error] {
		return func(yield func([]sessions.Beat, error) bool) {
			if len(beats[id]) > 0 {
				yield(append([]sessions.Beat(nil), beats[id]...), nil)
			}
		}
	}
}

// The rate of three sessions read as one run holds the truth as often as it says, though the
// computer's clock was set between them, and is as a rule surer than that of the first.
func TestJoinedRateHolds(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 26))
	held, narrower := 0, 0
	const seeds = 60
	for range seeds {
		rate, ppm := 20*rng.Float64()-10, 6000*rng.Float64()-3000
		all, beats := brokenRun(rng, []float64{900, 2400, 1500}, rate, ppm)
		run, err := Join(all, walk(beats))
		if err != nil {
			t.Fatal(err)
		}
		clock := sessions.Clock{BeatsPerHour: 7200}
		f, err := Rate(clock, run.Session, run.Beats(), RateOptions{Run: &run})
		if err != nil {
			t.Fatal(err)
		}
		one, err := Rate(clock, all[0], walk(beats)(3), RateOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Rate.V-rate) <= f.Rate.Half95() {
			held++
		}
		if f.Rate.Half95() < one.Rate.Half95() {
			narrower++
		}
		if f.Segments != 3 || f.Missed != 0 || f.Session != 0 || len(f.Sessions) != 3 || f.DurationS < 4700 {
			t.Fatalf("%d segments, %d missed, sessions %d %v, %g s", f.Segments, f.Missed, f.Session, f.Sessions, f.DurationS)
		}
	}
	if held < 55 || narrower < 55 {
		t.Errorf("%d of %d hold the truth, %d are narrower than the first session's", held, seeds, narrower)
	}
}

// What is no one run is refused, and a session without a beat is passed over.
func TestJoinRefuses(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	all, beats := brokenRun(rng, []float64{60, 60, 60}, 0, 0)
	beats[4] = nil
	if run, err := Join(all, walk(beats)); err != nil || len(run.Sessions()) != 2 {
		t.Errorf("with an empty session: %v, %v", run.Sessions(), err)
	}
	all[0].Timing.HostMaxErrorS = 0.0001 // of the others it isn't known
	if run, err := Join(all, walk(beats)); err != nil || run.Session.Timing.HostMaxErrorS != 0 {
		t.Errorf("a bound of %g s, %v", run.Session.Timing.HostMaxErrorS, err)
	}
	if _, err := Join(all, walk(nil)); err == nil || !strings.Contains(err.Error(), "holds no beat") {
		t.Errorf("without a beat: %v", err)
	}
	for want, change := range map[string]func(*sessions.Session, []sessions.Beat){
		"was not recorded with the sensor":  func(s *sessions.Session, _ []sessions.Beat) { s.Timing.CountRate = 32768 },
		"began before session 3 ended":      func(_ *sessions.Session, b []sessions.Beat) { b[0].HostUTC -= 3600e9 },
		"was not recorded with the sensor ": func(s *sessions.Session, _ []sessions.Beat) { s.Profile = "byte-beats" },
	} {
		all, beats := brokenRun(rng, []float64{60, 60}, 0, 0)
		change(&all[1], beats[4])
		if _, err := Join(all, walk(beats)); err == nil || !strings.Contains(err.Error(), strings.TrimSpace(want)) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

package analysis

import (
	"errors"
	"fmt"
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/beat/textfile"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// listening is a made-up day at the bench: a clock, a sensor whose resonator is off,
// and a host that stamps lines 0 to 16 ms late.
type listening struct {
	ppm, duration            float64
	resetAt, stepAt, sleepAt float64 // 0 = never; a step is +2 s, a sleep ten minutes
	jitter                   float64
	edges                    bool // each beat a second time, 20 ms later, with edge 1
	counts                   bool
	seed                     uint64
}

const trueRate = -17.5 // s/day

func (b listening) beats() iter.Seq2[[]sessions.Beat, error] {
	rng := rand.New(rand.NewPCG(b.seed, 9))
	interval := 1 / (1 + trueRate/86400)
	return func(yield func([]sessions.Beat, error) bool) {
		var chunk []sessions.Beat
		origin, last := 4000.0, 0.0
		for k := 0; ; k++ {
			at := float64(k)*interval + b.jitter*rng.NormFloat64()
			if at > b.duration {
				break
			}
			reset := b.resetAt > 0 && at >= b.resetAt
			if reset {
				b.resetAt = 0
				origin = 0.2 - at*(1+b.ppm*1e-6)
			}
			mono, utc := at, at
			if b.sleepAt > 0 && at > b.sleepAt {
				if at < b.sleepAt+600 {
					continue
				}
				mono -= 600
			}
			if b.stepAt > 0 && at > b.stepAt {
				utc += 2
			}
			arrive := max(last, mono+0.016*rng.Float64())
			last = arrive
			one := sessions.Beat{HostMono: int64(arrive * 1e9), HostUTC: 1_700_000_000_000_000_000 + int64((utc+arrive-mono)*1e9), Break: reset}
			if b.counts {
				one.Count = uint64(int64((origin+at*(1+b.ppm*1e-6))*1e6)) & 0xffffffff
			}
			chunk = append(chunk, one)
			if b.edges {
				one.Edge = 1
				one.Break = false
				one.Count = (one.Count + 20000) & 0xffffffff
				one.HostMono += 20e6
				one.HostUTC += 20e6
				last += 0.02
				chunk = append(chunk, one)
			}
			if len(chunk) >= 100 {
				if !yield(chunk, nil) {
					return
				}
				chunk = nil
			}
		}
		yield(chunk, nil)
	}
}

// 24 hours, a resonator 0.4 % off, 32-bit microseconds (they wrap twenty times),
// lines 0 to 16 ms late: the rate must be right within 0.02 s/day and inside its
// 95 % interval in 19 of 20 seeds, whatever befalls device and host. The truth is
// the simulation's own.
func TestRateThroughThick(t *testing.T) {
	clock := sessions.Clock{BeatsPerHour: 3600}
	for _, tc := range []struct {
		name     string
		b        listening
		segments int64
	}{
		{"plain", listening{}, 1},
		{"device reset", listening{resetAt: 30000}, 2},
		{"host clock stepped", listening{stepAt: 40000}, 1},
		{"ten minutes asleep", listening{sleepAt: 50000}, 2},
		{"all of it", listening{resetAt: 20000, stepAt: 40000, sleepAt: 60000}, 3},
		{"two edges", listening{edges: true}, 1},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			seeds, held := uint64(20), uint64(0)
			if testing.Short() {
				seeds = 3
			}
			for seed := range seeds {
				b := tc.b
				b.ppm, b.duration, b.jitter, b.counts, b.seed = 4000, 86400, 100e-6, true, seed
				ses := sessions.Session{ID: 7, Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostKnown: true, HostSynced: true}}
				r, err := Rate(clock, ses, b.beats(), RateOptions{})
				if err != nil {
					t.Fatal(err)
				}
				if off := math.Abs(r.Rate.V - trueRate); off > 0.02 {
					t.Errorf("seed %d: rate %+v, want %g within 0.02", seed, r.Rate, trueRate)
				}
				if r.Rate.Covers(trueRate) {
					held++
				}
				if r.Segments != tc.segments || r.Session != 7 || r.TimeBase.Source != "host" || !r.TimeBase.HostSynchronised {
					t.Errorf("seed %d: %d segments, session %d, time base %+v; want %d segments", seed, r.Segments, r.Session, r.TimeBase, tc.segments)
				}
				if !r.TimeBase.OffsetPPM.Covers(4000) && math.Abs(r.TimeBase.OffsetPPM.V-4000) > 0.2 {
					t.Errorf("seed %d: offset %v ppm, want 4000", seed, r.TimeBase.OffsetPPM)
				}
			}
			if held < seeds-1 {
				t.Errorf("%d of %d intervals hold the truth, want %d", held, seeds, seeds-1)
			}
		})
	}
}

// Without a count the host's stamps are the time; not synchronised, its crystal
// may be 50 ppm off, 4.1 s/day (95 % of a rectangle), and that must be told.
func TestRateByStampsAlone(t *testing.T) {
	r, err := Rate(sessions.Clock{BeatsPerHour: 3600}, sessions.Session{}, listening{duration: 3600, seed: 1}.beats(), RateOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if q := r.Rate; !q.Covers(trueRate) || q.Half95() < 4.1 || q.Half95() > 5 {
		t.Errorf("rate %v, want %g ± 4.1 or a little more", q.Text("s/day"), trueRate)
	}
	if !slices.ContainsFunc(r.Warnings, func(s string) bool { return strings.Contains(s, "synchronised") }) {
		t.Errorf("warnings %q don't speak of the host's clock", r.Warnings)
	}
	// 95 % of a rectangle of 5 ppm is 0.41 s/day.
	r, err = Rate(sessions.Clock{BeatsPerHour: 3600}, sessions.Session{}, listening{duration: 3600, seed: 1}.beats(), RateOptions{HostLimitPPM: 5})
	if err != nil {
		t.Fatal(err)
	}
	if q := r.Rate; !q.Covers(trueRate) || q.Half95() < 0.41 || q.Half95() > 0.5 || !strings.Contains(strings.Join(r.Warnings, "\n"), "±5 ppm, ±0.43 s/day") {
		t.Errorf("a clock good to 5 ppm: rate %v, warnings %q, want %g ± 0.41 or a little more", q.Text("s/day"), r.Warnings, trueRate)
	}
}

// The sensor's count against a clock left to itself is told as well as the two can be
// compared; that clock's own 50 ppm stand apart, and both are in the offset from true
// time.
func TestComparisonApartFromTheHost(t *testing.T) {
	ses := sessions.Session{Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostKnown: true}}
	r, err := Rate(sessions.Clock{BeatsPerHour: 3600}, ses, listening{ppm: 4000, duration: 3600, counts: true, seed: 1}.beats(), RateOptions{})
	if err != nil {
		t.Fatal(err)
	}
	b := r.TimeBase
	if b.CountPPM == nil || b.HostPPM == nil {
		t.Fatalf("time base %+v, want count and host apart", b)
	}
	if q := b.CountPPM; !q.Covers(4000) || q.Half95() > 5 {
		t.Errorf("the count is %s fast by this computer's clock, want 4000 within 5", q.Text("ppm"))
	}
	if both := math.Hypot(b.CountPPM.Half95(), b.HostPPM.Half95()); math.Abs(b.OffsetPPM.Half95()-both) > 1e-9 || b.HostPPM.Half95() < 47 {
		t.Errorf("by true time ±%g ppm, this computer's clock ±%g, want ±%g and ±47.5", b.OffsetPPM.Half95(), b.HostPPM.Half95(), both)
	}
	want := "the sensor's count is off by " + b.CountPPM.Signed("ppm")
	if !strings.Contains(strings.Join(r.Reasons, "\n"), want) {
		t.Errorf("reasons %q, want %q among them", r.Reasons, want)
	}
}

// What would narrow the interval depends on where the times come from: only where this
// computer's clock stamped them does it help to synchronise it.
func TestAdviceFitsTheSource(t *testing.T) {
	clock := sessions.Clock{BeatsPerHour: 3600}
	rng := rand.New(rand.NewPCG(5, 5))
	var counts strings.Builder
	at, interval := 0.0, 1.0
	for range 3000 {
		at += interval
		interval += 2e-5 * rng.NormFloat64() // a clock that wanders by far too much
		fmt.Fprintln(&counts, int64(at*1e6))
	}
	at = 0
	even := make([]sessions.Beat, 3000)
	for i := range even {
		at++
		even[i] = sessions.Beat{Count: uint64(at * 1e9), HostMono: int64(at * 1e9), HostUTC: int64(at*1e9) + 1.7e18}
	}
	file := func() (beat.Result, error) {
		return RateFile(strings.NewReader(counts.String()), RateOptions{BeatsPerHour: 3600})
	}
	session := func(port string, beats []sessions.Beat) func() (beat.Result, error) {
		ses := sessions.Session{Kind: sessions.SessionTime, Port: port, Timing: sessions.Timing{CountRate: 1e9, CountBits: 64, HostKnown: port != ""}}
		return func() (beat.Result, error) {
			return Rate(clock, ses, func(yield func([]sessions.Beat, error) bool) { yield(beats, nil) }, RateOptions{})
		}
	}
	for _, tc := range []struct {
		name       string
		find       func() (beat.Result, error)
		want, from string
		ours       bool // this computer's clock is spoken of
	}{
		{"a beat file", file, "the clock itself wanders", "the sensor's own count", false},
		{"imported beats", session("", even), "beside a synchronised computer", "the imported times", false},
		{"a session", session("/dev/ttyACM0", even), "synchronise this computer's clock, or time with --reference", "this computer's clock", true},
	} {
		f, err := tc.find()
		if err != nil {
			t.Fatalf("%s: %v", tc.name, err)
		}
		next, all := strings.Join(f.Next, "\n"), strings.Join(slices.Concat(f.Next, f.Warnings, f.Reasons), "\n")
		if !strings.Contains(next, tc.want) || !strings.HasPrefix(f.TimeBase.From(), tc.from) {
			t.Errorf("%s: next %q, from %q; want %q and %q", tc.name, f.Next, f.TimeBase.From(), tc.want, tc.from)
		}
		if ours := strings.Contains(all, "this computer's clock"); ours != tc.ours {
			t.Errorf("%s: this computer's clock is spoken of: %v\n%s", tc.name, ours, all)
		}
	}
}

func TestRateFile(t *testing.T) {
	var text strings.Builder
	text.WriteString("# a made-up half-seconds clock, +43.2 s/day, tick and tock 8 ms apart\n")
	for k := range 2400 {
		at := float64(k)*0.5/(1+43.2/86400) + 0.002*float64(1-2*(k&1))
		if k%10 == 7 {
			continue
		}
		text.WriteString(strconv.FormatUint(uint64(4_294_000_000+at*1e6)&0xffffffff, 10) + "\r\n")
	}
	r, err := RateFile(strings.NewReader(text.String()), RateOptions{Train: "96/8,80/10,75/10,60"})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(r.Rate.V-43.2) > 0.001 || math.Abs(r.BeatError.V-0.004) > 1e-6 || r.Missed != 240 || r.Beats != 2160 || r.Spurious != 0 {
		t.Errorf("rate %+v, beat error %v, %d beats, %d missed, %d spurious; want 43.2, 0.004, 2160, 240, 0", r.Rate, r.BeatError, r.Beats, r.Missed, r.Spurious)
	}
	if r.TimeBase.Source != "device" || r.NominalBeatsH != 7200 {
		t.Errorf("time base %+v, nominal %g", r.TimeBase, r.NominalBeatsH)
	}
	_, err = RateFile(strings.NewReader("1\n2\nthree\n"), RateOptions{})
	if e, ok := errors.AsType[*textfile.LineError](err); !ok || e.Line != 3 {
		t.Errorf("a bad third line: error %v", err)
	}
	_, err = RateFile(strings.NewReader("1\n2\n3\n"), RateOptions{})
	if e, ok := errors.AsType[*beat.TooFewError](err); !ok || e.Events != 3 {
		t.Errorf("three lines: error %v", err)
	}
	for _, o := range []RateOptions{{BeatsPerHour: -5}, {BeatsPerHour: math.NaN()}, {CountBits: 3}, {CountRate: math.Inf(1)}} {
		_, err = RateFile(strings.NewReader("1\n"), o)
		if _, ok := errors.AsType[*quantity.InputError](err); !ok {
			t.Errorf("%+v: error %v, want an quantity.InputError", o, err)
		}
	}
}

// Where nobody says what the clock should make, the usual number near is assumed,
// and told.
func TestRateWithoutTrain(t *testing.T) {
	r, err := Rate(sessions.Clock{}, sessions.Session{}, listening{duration: 600, seed: 2}.beats(), RateOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if r.NominalBeatsH != 3600 || !slices.ContainsFunc(r.Warnings, func(s string) bool { return strings.Contains(s, "3600 are assumed") }) {
		t.Errorf("nominal %g, warnings %q", r.NominalBeatsH, r.Warnings)
	}
}

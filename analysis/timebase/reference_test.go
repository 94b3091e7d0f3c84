package timebase

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// receiver is a made-up time reference, one sentence a second that comes 20 to 120
// ms late, and a host whose clock runs ppm fast.
type receiver struct {
	ppm, duration      float64
	sleepAt, sleepS    float64 // 0 = never
	leapAt             float64 // the time told repeats a second here
	silentAt, silentTo float64
	twice              bool // each time is told again 100 ms later
	seed               uint64
}

func (r receiver) play() *Reference {
	rng := rand.New(rand.NewPCG(r.seed, 7))
	var ref Reference
	for at := 0.0; at < r.duration; at++ {
		if at >= r.silentAt && at < r.silentTo || at >= r.sleepAt && at < r.sleepAt+r.sleepS {
			continue
		}
		arrive := at + 0.02 + 0.1*rng.Float64()
		if r.sleepS > 0 && at >= r.sleepAt {
			arrive -= r.sleepS
		}
		mono := int64(arrive * (1 + r.ppm*1e-6) * 1e9)
		nanos := 1_790_000_000_000_000_000 + int64(at)*1e9
		if r.leapAt > 0 && at > r.leapAt {
			nanos -= 1e9
		}
		ref.Add(mono, nanos+mono-int64(at*1e9), nanos, false)
		if r.twice {
			ref.Add(mono+100e6, nanos, nanos, false)
		}
	}
	return &ref
}

// Over an hour the host's rate comes out inside its interval in 95 % of the seeds or
// more, and the interval is far narrower than the ±47.5 ppm of a crystal left to itself.
// Most of it is a limit for what the delay may shift, which these delays don't reach.
// The truth is the simulation's own.
func TestCoverageOfSentences(t *testing.T) {
	for _, tc := range []struct {
		name     string
		r        receiver
		segments int64
		widest   float64 // half-width at the most, ppm
	}{
		{"an hour", receiver{duration: 3600}, 1, 4},
		{"told twice", receiver{duration: 3600, twice: true}, 1, 4},
		{"asleep for ten minutes", receiver{duration: 3600, sleepAt: 1500, sleepS: 600}, 2, 8},
		{"a leap second", receiver{duration: 3600, leapAt: 1003}, 2, 8},
		{"silent for half of it", receiver{duration: 3600, silentAt: 1200, silentTo: 3000}, 1, 5},
		{"a day", receiver{duration: 86400}, 1, 0.2},
	} {
		t.Run(tc.name, func(t *testing.T) {
			seeds := 200
			if tc.r.duration > 4000 {
				seeds = 20
			}
			width := 0.0
			held.Count(t, held.Cell{What: "host's rate", Kind: "sentences, " + tc.name, Length: fmt.Sprintf("%g h", tc.r.duration/3600), Unit: "ppm", Low: 95, Up: 100, Seeds: seeds,
				Run: func(seed uint64) (quantity.Value, float64, error) {
					r := tc.r
					r.ppm, r.seed = 80, seed
					ref := r.play()
					v, byPulse, ok := ref.Host(r.duration)
					if !ok || byPulse || !v.Finite() {
						return v, 0, fmt.Errorf("nothing found by sentences: %v", v)
					}
					width = max(width, v.Half95())
					if c := ref.sentences.clone(); seed == 0 {
						if c.flush(); c.line.segments != tc.segments {
							t.Errorf("%d segments, want %d", c.line.segments, tc.segments)
						}
					}
					return v, 80, nil
				}})
			if width > tc.widest {
				t.Errorf("half-width %.3g ppm, want %.3g at the most", width, tc.widest)
			}
		})
	}
}

// What is told in the first tenth of a run alone leaves the host's wandering in
// doubt; too little is nothing; none at all changes nothing.
func TestReferenceTooShort(t *testing.T) {
	ref := receiver{ppm: 80, duration: 3600}.play()
	v, _, _ := ref.Host(36000)
	if u := 0.9 * wanderPPM / math.Sqrt(3); v.U < u {
		t.Errorf("u %.3g ppm, want more than the %.3g of the untold part", v.U, u)
	}
	b := Base{Source: SourceHost, OffsetPPM: Host{}.RatePPM(20)}
	for _, ref := range []*Reference{{}, receiver{ppm: 80, duration: 20}.play()} {
		if got := ref.Improve(b, nil, 20); got != b {
			t.Errorf("got %+v, want %+v", got, b)
		}
	}
}

// The better of the two is taken: the reference over a crystal left to itself, the
// time service over an hour of sentences.
func TestImprove(t *testing.T) {
	ref := receiver{ppm: 80, duration: 3600}.play()
	f, _, _ := run{ppm: -2500, rate: 1e6, bits: 32, interval: 0.5003, duration: 3600, delay: 0.016}.play(t)
	loose, held := Host{Known: true}, Host{Known: true, Synced: true}
	b := ref.Improve(f.Base(loose, 3600), f, 3600)
	// The device counts 0.9975 of the host's seconds, of which 1.00008 are a true one.
	want := (0.9975*1.00008 - 1) * 1e6
	if b.Source != SourceReference || !b.OffsetPPM.Covers(want) || b.OffsetPPM.Half95() > 5 || b.Host.Synced {
		t.Errorf("host left to itself: got %+v, want %g ppm by the reference", b, want)
	}
	b = ref.Improve(f.Base(held, 3600), f, 3600)
	if b.Source != SourceHost || !b.OffsetPPM.Covers(-2500) || !b.HostPPM.Covers(80) {
		t.Errorf("host held by a time service: got %+v, want its own time", b)
	}
	b = ref.Improve(Base{Source: SourceHost, OffsetPPM: loose.RatePPM(3600), Host: loose}, nil, 3600)
	if b.Source != SourceReference || b.OffsetPPM != b.HostPPM {
		t.Errorf("beats without count: got %+v, want the host's rate by the reference", b)
	}
}

func FuzzReference(f *testing.F) {
	f.Add(uint64(1), int64(1e9), int64(1e9))
	f.Fuzz(func(t *testing.T, seed uint64, mono, nanos int64) {
		rng := rand.New(rand.NewPCG(seed, 1))
		var ref Reference
		m, n := mono, nanos
		for range 200 {
			ref.Add(m, n, n, rng.IntN(2) == 0)
			m, n = m+rng.Int64N(1+mono&math.MaxInt64>>1), n+rng.Int64N(1+nanos&math.MaxInt64>>1)
		}
		if v, _, ok := ref.Host(3600); ok && !v.Finite() {
			t.Errorf("got %v", v)
		}
	})
}

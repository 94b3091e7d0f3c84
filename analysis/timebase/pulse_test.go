package timebase

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// pulses is a made-up receiver with a pulse, and a host whose clock runs ppm fast.
// Where a pulse is missing its sentence comes as receiver's do.
type pulses struct {
	receiver
	late    func(rng *rand.Rand, at, hostPPM float64) float64 // of a pulse's stamp, seconds
	missing func(at float64) bool
}

func (p pulses) play() *Reference {
	rng := rand.New(rand.NewPCG(p.seed, 9))
	var ref Reference
	for at := 0.0; at < p.duration; at++ {
		if at >= p.silentAt && at < p.silentTo || at >= p.sleepAt && at < p.sleepAt+p.sleepS {
			continue
		}
		late, byPulse := 0.02+0.1*rng.Float64(), false
		if p.missing == nil || !p.missing(at) {
			late, byPulse = p.late(rng, at, p.ppm), true
		}
		mono, nanos := (at+late)*(1+p.ppm*1e-6), 1_790_000_000_000_000_000+int64(at)*1e9
		if p.sleepS > 0 && at >= p.sleepAt {
			mono -= p.sleepS
		}
		if p.leapAt > 0 && at > p.leapAt {
			nanos -= 1e9
		}
		ref.Add(int64(mono*1e9), nanos, nanos, byPulse)
	}
	return &ref
}

// woken is a system that is waited in: some ten microseconds, and now and then a task
// that was first.
func woken(rng *rand.Rand, _, _ float64) float64 {
	late := 30e-6 + 20e-6*rng.ExpFloat64()
	if rng.IntN(20) == 0 {
		late += 4e-3 * rng.Float64()
	}
	return late
}

// looked is a system in which the lines are looked at each 1.06 ms or so.
func looked(rng *rand.Rand, _, _ float64) float64 { return 1.06e-3 * rng.Float64() }

// framed is an adaptor that is asked each millisecond of the host's own clock.
func framed(_ *rand.Rand, at, ppm float64) float64 {
	host := at * (1 + ppm*1e-6) * 1e3
	return (math.Ceil(host) - host) * 1e-3
}

// creeping is the worst there may be: most seconds more or less at the end than at the
// beginning, evenly, by a share that the seed tells.
func creeping(seed uint64, most, scatter float64) func(*rand.Rand, float64, float64) float64 {
	share := 2*rand.New(rand.NewPCG(seed, 10)).Float64() - 1
	return func(rng *rand.Rand, at, _ float64) float64 {
		return most + share*most*at/3600 + scatter*rng.ExpFloat64()
	}
}

// Over an hour the host's rate by the pulses lies inside its interval in 95 % of the
// seeds or more, whatever makes their stamps late, and the interval is nine times
// narrower than by sentences where nothing hinders. Most of it is a limit for what the
// delay may shift, which few of these delays reach. The truth is the simulation's own.
func TestCoverageOfPulses(t *testing.T) {
	hour := receiver{ppm: 80, duration: 3600}
	with := func(change func(*receiver)) receiver {
		r := hour
		change(&r)
		return r
	}
	fewer := func(at float64) bool { return int(at)%3 == 0 || at > 2000 && at < 2300 }
	for _, tc := range []struct {
		name    string
		p       pulses
		creeps  float64 // 0 or its scatter, seconds
		widest  float64 // half-width at the most, ppm
		narrows float64 // by how much at the least, against sentences alone
	}{
		{"woken", pulses{receiver: hour, late: woken}, 0, 0.31, 9},
		{"looked for", pulses{receiver: hour, late: looked}, 0, 0.31, 9},
		{"in frames", pulses{receiver: hour, late: framed}, 0, 0.3, 10},
		{"in frames that hardly move", pulses{receiver: with(func(r *receiver) { r.ppm = 0.1 }), late: framed}, 0, 0.3, 10},
		{"in frames that move once", pulses{receiver: with(func(r *receiver) { r.ppm = 0.4 }), late: framed}, 0, 0.3, 10},
		{"creeping", pulses{receiver: hour}, 20e-6, 0.31, 9},
		{"creeping on a busy host", pulses{receiver: hour}, 3e-3, 1.2, 2.5},
		{"some missing", pulses{receiver: hour, late: woken, missing: fewer}, 0, 0.55, 5},
		{"asleep for ten minutes", pulses{receiver: with(func(r *receiver) { r.sleepAt, r.sleepS = 1500, 600 }), late: woken}, 0, 1, 5},
		{"a leap second", pulses{receiver: with(func(r *receiver) { r.leapAt = 1003 }), late: woken}, 0, 0.45, 9},
	} {
		t.Run(tc.name, func(t *testing.T) {
			width, sent := 0.0, math.Inf(1)
			held.Count(t, held.Cell{What: "host's rate", Kind: "pulses " + tc.name, Length: "1 h", Unit: "ppm", Low: 95, Up: 100, Seeds: 200,
				Run: func(seed uint64) (quantity.Value, float64, error) {
					p := tc.p
					p.seed = seed
					if tc.creeps > 0 {
						p.late = creeping(seed, max(1e-3, tc.creeps), tc.creeps)
					}
					v, byPulse, ok := p.play().Host(p.duration)
					if !ok || !byPulse || !v.Finite() {
						return v, 0, fmt.Errorf("nothing found by pulse: %v", v)
					}
					r := p.receiver
					s, _, _ := r.play().Host(r.duration)
					width, sent = max(width, v.Half95()), min(sent, s.Half95())
					return v, p.ppm, nil
				}})
			if width > tc.widest || sent/width < tc.narrows {
				t.Errorf("half-width %.3g ppm, want %.3g at the most; %.3g times narrower than by sentences, want %.3g", width, tc.widest, sent/width, tc.narrows)
			}
		})
	}
}

// By which of the two it is follows from how many there are: too few pulses to fit, or
// a minute of them in an hour, leave it to the sentences.
func TestPulsesOrSentences(t *testing.T) {
	after := func(s float64) func(float64) bool { return func(at float64) bool { return at >= s } }
	for _, tc := range []struct {
		name    string
		missing func(at float64) bool
		byPulse bool
	}{
		{"pulses alone", nil, true},
		{"none", after(0), false},
		{"too few to fit", after(20), false},
		{"a minute of them", after(60), false},
		{"for most of the hour", after(2400), true},
		{"every other", func(at float64) bool { return int(at)%2 == 1 }, true},
	} {
		t.Run(tc.name, func(t *testing.T) {
			ref := pulses{receiver: receiver{ppm: 80, duration: 3600}, late: woken, missing: tc.missing}.play()
			loose := Host{Known: true}
			b := ref.Improve(Base{Source: SourceHost, OffsetPPM: loose.RatePPM(3600), Host: loose}, nil, 3600)
			if b.Source != SourceReference || b.ByPulse != tc.byPulse || !b.HostPPM.Covers(80) || b.HostPPM.Half95() > 4 {
				t.Errorf("got %+v, want 80 ppm by the reference, by pulse: %v", b, tc.byPulse)
			}
		})
	}
}

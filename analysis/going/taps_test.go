package going

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"evenbeat/devices/quantity"
)

var tapsBegin = time.Date(2026, 3, 1, 9, 6, 40, 0, time.UTC)

// phone is a clock beside the host's, and the way to it.
type phone struct {
	offset, drift, step float64 // s, parts of 1, s
	there, back         func() float64
}

// reads is what the phone's clock shows s seconds after the host's tapsBegin.
func (p phone) reads(s float64) float64 {
	v := p.offset + s*(1+p.drift)
	if p.step > 0 {
		v = math.Floor(v/p.step) * p.step
	}
	return v
}

func (p phone) rounds(s float64) (all []RoundTrip) {
	for range 8 {
		there, back := p.there(), p.back()
		all = append(all, RoundTrip{p.reads(s), p.reads(s + there + back), tapsBegin.Add(time.Duration((s + there) * 1e9))})
		s += there + back
	}
	return all
}

// tap taps three marks of a dial that is errorS fast, the first at 09:07, each late.
func (p phone) tap(errorS, marks float64, late func() float64) Taps {
	t := Taps{Marks: marks, Step: p.step, Before: p.rounds(0)}
	at := 20.0 - errorS
	for i := range t.At {
		t.At[i] = p.reads(at + late())
		at += marks
	}
	t.After = p.rounds(at + 1 - marks + 1)
	return t
}

// The interval of a check by taps holds the dial's true error for at least 95 % of
// persons and phones, whichever way the connection is slow, and however the phone's clock
// drifts and steps. That of the offset always does.
func TestTapsHold(t *testing.T) {
	t.Parallel()
	const limit, persons = 0.5, 4000
	rng := rand.New(rand.NewPCG(3, 14))
	hand, err := quantity.ParseHand("9:07")
	if err != nil {
		t.Fatal(err)
	}
	slow := func(mean float64) func() float64 { return func() float64 { return 0.002 + rng.ExpFloat64()*mean } }
	for name, make := range map[string]func() phone{
		"even delays": func() phone { return phone{1e6 * rng.Float64(), 0, 0, slow(0.02), slow(0.02)} },
		"slow there":  func() phone { return phone{1e6 * rng.Float64(), 0, 1e-3, slow(0.3), slow(0.001)} },
		"slow back":   func() phone { return phone{1e6 * rng.Float64(), 0, 1e-3, slow(0.001), slow(0.3)} },
		"drifts": func() phone {
			return phone{1e6 * rng.Float64(), 2e-4 * (2*rng.Float64() - 1), 1e-4, slow(0.02), slow(0.05)}
		},
		"steps of 0.1 s": func() phone { return phone{1e6 * rng.Float64(), 5e-5, 0.1, slow(0.01), slow(0.01)} },
	} {
		for _, marks := range []float64{5, 15, 60} {
			held, offset := 0, 0
			for range persons {
				p, errorS := make(), 10*rng.Float64()-5
				bias, scatter := limit*(2*rng.Float64()-1), 0.05+0.1*rng.Float64()
				got, err := p.tap(errorS, marks, func() float64 { return bias + scatter*rng.NormFloat64() }).Check(hand, limit, time.UTC)
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				if math.Abs(got.ErrorS-errorS) <= 1.96*got.U {
					held++
				}
				taps := p.tap(errorS, marks, func() float64 { return 0 })
				host, half, err := taps.hostTime()
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				if off := host(taps.At[1]).Sub(tapsBegin).Seconds() - (20 - errorS + marks); math.Abs(off) <= half+1e-6 {
					offset++
				}
			}
			t.Logf("%s, marks %g s: check %.1f %%, offset %.1f %%", name, marks, 100*float64(held)/persons, 100*float64(offset)/persons)
			if float64(held) < 0.95*persons || offset < persons {
				t.Errorf("%s, marks %g s: %d checks and %d offsets of %d held", name, marks, held, offset, persons)
			}
		}
	}
}

// The median leaves out one bad tap, and the interval is never less than the person's
// limit of error.
func TestTapsMedian(t *testing.T) {
	t.Parallel()
	still := func() float64 { return 0.01 }
	late := []float64{0, 0.9, 0}
	p := phone{offset: 77, there: still, back: still}
	hand, err := quantity.ParseHand("7")
	if err != nil {
		t.Fatal(err)
	}
	n := -1
	got, err := p.tap(2.5, 15, func() float64 { n++; return late[n] }).Check(hand, 0.5, time.UTC)
	if err != nil || math.Abs(got.ErrorS-2.5) > 1e-6 || got.U < 0.5/math.Sqrt(3) || got.At.Sub(tapsBegin).Seconds() > 48 {
		t.Errorf("%+v, %v", got, err)
	}
	// Only the offset's half-width, which is 10 ms, is added where all taps agree.
	got, err = p.tap(2.5, 15, func() float64 { return 0 }).Check(hand, 0.5, time.UTC)
	if want := math.Sqrt((0.25 + 0.0001) / 3); err != nil || math.Abs(got.U-want) > 1e-9 {
		t.Errorf("%+v, %v, want U %g", got, err, want)
	}
}

func TestTapsRefused(t *testing.T) {
	t.Parallel()
	still := func() float64 { return 0.01 }
	hand, err := quantity.ParseHand("7")
	if err != nil {
		t.Fatal(err)
	}
	for want, spoil := range map[string]func(*Taps){
		"not held against":   func(x *Taps) { x.After = nil },
		"ran apart":          func(x *Taps) { x.After[0].Host = x.After[0].Host.Add(time.Second); x.After = x.After[:1] },
		"went back":          func(x *Taps) { x.Before[2].Back = 0 },
		"not between":        func(x *Taps) { x.At[2] += 100 },
		"same mark":          func(x *Taps) { x.At[1] = x.At[0] + 1 },
		"from the two other": func(x *Taps) { x.At[2] -= 5 },
		"clock":              func(x *Taps) { x.Before[0].Back = math.NaN() },
	} {
		p := phone{offset: 77, there: still, back: still}
		taps := p.tap(2.5, 15, func() float64 { return 0 })
		spoil(&taps)
		if got, err := taps.Check(hand, 0.5, time.UTC); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %+v, %v", want, got, err)
		}
	}
}

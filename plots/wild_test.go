package plots

import (
	"bytes"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// TestWildFindings draws findings of random sense, with numbers from the ends of
// what float64 holds among them. A figure may be refused with an error or look
// odd, but nothing may panic (the drawing library does, at ranges that vanish or
// zeros on a logarithmic axis) and nothing that is no number may be drawn.
func TestWildFindings(t *testing.T) {
	seeds := uint64(60)
	if testing.Short() {
		seeds = 20
	}
	for seed := range seeds { // the seed is all one needs to see a failure again
		rng := rand.New(rand.NewPCG(seed, 1))
		f := wildFindings(rng)
		f.Width = []int{0, 360}[seed%2]
		for _, kind := range Kinds() {
			fig, err := Draw(kind, f)
			if err != nil {
				continue
			}
			svg, err := fig.SVG()
			if err != nil {
				t.Fatalf("seed %d, %s: %v", seed, kind, err)
			}
			if bytes.Contains(svg, []byte("NaN")) || bytes.Contains(svg, []byte("Inf")) {
				t.Errorf("seed %d, %s: the drawing holds what is no number", seed, kind)
			}
		}
		var page bytes.Buffer
		if err := Sheet(&page, SheetInput{Findings: f}); err == nil && page.Len() == 0 {
			t.Errorf("seed %d: an empty sheet without an error", seed)
		}
	}
}

func wildFindings(rng *rand.Rand) Findings {
	ends := []float64{0, math.Copysign(0, -1), 1, -1, 1e-320, 1e-30, 1e30, 1e300, math.MaxFloat64, -1e300,
		math.NaN(), math.Inf(1), math.Inf(-1), 0.02, 0.05, 3, 86400}
	number := func() float64 {
		if rng.IntN(2) == 0 {
			return rng.NormFloat64()
		}
		return ends[rng.IntN(len(ends))]
	}
	value := func() quantity.Value {
		return quantity.Value{V: number(), U: math.Abs(number()), K: math.Abs(number())}
	}
	maybe := func() *quantity.Value {
		if rng.IntN(4) == 0 {
			return nil
		}
		v := value()
		return &v
	}
	bare := func() *float64 { v := number(); return &v }
	at := func() time.Time { return time.Unix(rng.Int64N(1<<31), 0).UTC() }
	f := Findings{Units: quantity.System(rng.IntN(3)), Rate: &beat.Result{}, Stability: &stability.Result{}, Going: &going.Result{}}
	f.Spring = &spring.Result{Bore: maybe(), Arbor: maybe(), Strip: maybe(), Length: maybe(), IdealLength: maybe(), Fill: maybe(),
		Wound: maybe(), Rundown: maybe(), Turns: maybe(), TurnsBest: maybe(), HalfCircle: number(), FillLow: number(), FillHigh: number()}
	if rng.IntN(2) == 0 { // else hardly one barrel would be drawn
		f.Spring.Bore, f.Spring.Arbor, f.Spring.Strip = val(0.06, 0), val(0.02, 0), val(math.Abs(number())*1e-3, 0)
	}
	f.Rate.Rate = beat.Rate{Value: value()}
	f.Rate.BeatError, f.Rate.TickTock = value(), value()
	for range rng.IntN(5) {
		f.Rate.Trace = append(f.Rate.Trace, beat.TracePoint{TimeS: number(), ResidualS: number(), Far: rng.IntN(2) == 0, After: rng.IntN(3) == 0})
		f.Rate.Fold = append(f.Rate.Fold, beat.FoldPoint{Place: rng.Int(), ResidualS: value(), WaveS: number()})
		f.Rate.Wheels = append(f.Rate.Wheels, beat.Wheel{PeriodS: number(), Amplitude: value(), Significant: true})
		f.Rate.ShortTerm = append(f.Rate.ShortTerm, beat.Short{TimeS: number(), SpanS: number(), Rate: value()})
		f.Stability.Rows = append(f.Stability.Rows, stability.Row{TauS: number(), OADev: bare(), MDev: bare(), Low: bare(), High: bare()})
		f.Going.Curve = append(f.Going.Curve, going.CurvePoint{At: at(), ErrorS: number(), ModelS: number()})
		f.Going.Daily = append(f.Going.Daily, going.Daily{From: at(), To: at(), Rate: value()})
		f.Going.Segments = append(f.Going.Segments, going.Segment{From: at(), To: at(), Rate: value()})
		f.Record.Events = append(f.Record.Events, sessions.Event{At: at(), Kind: sessions.EventAdjusted, Turns: number(), HasTurns: true})
		f.Record.Air = append(f.Record.Air, sessions.Air{At: at(), TemperatureC: number(), HasTemperature: true})
		f.Going.Checks++
	}
	if rng.IntN(2) == 0 {
		f.Rate.BeatsPerTooth = rng.IntN(3)
		f.Rate.Tooth = &beat.Tooth{Tooth: rng.Int(), Kind: beat.ToothBent, Significant: true, Late: value(), Beats: []int{rng.Int(), rng.IntN(60)}[:rng.IntN(3)]}
	}
	f.Going.MeanRate, f.Going.ErrorNow, f.Going.Trend = maybe(), maybe(), maybe()
	return f
}

package plots

import (
	"math"
	"math/rand/v2"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// The findings below are invented, of no clock that exists. The sums behind them
// are the business of analysis; here they only have to hang together.

func val(v, u float64) *quantity.Value { return &quantity.Value{V: v, U: u} }

// springExample is a barrel of 2.5 in with an arbor of 5/8 in, 22 thou strip of
// 110 in: filled to 0.526, 11.78 turns of 11.80.
func springExample() *spring.Result {
	return &spring.Result{
		Part: "barrel",
		Bore: val(0.0635, 0.00001), Arbor: val(0.015875, 0.00001), Strip: val(0.0005588, 0.000005),
		Height: val(0.032, 0.00001), Length: val(2.794, 0.003),
		HalfArea: val(0.0014845, 0.000002), IdealLength: val(2.6566, 0.024), Fill: val(0.5259, 0.0048),
		Wound: val(0.04721, 0.0002), Rundown: val(0.04535, 0.0002),
		Turns: val(11.782, 0.11), TurnsBest: val(11.803, 0.11), TurnsLost: val(0.0018, 0.0006),
		GoingHours: &spring.Estimate{Value: *val(141.4, 1.3)}, Energy: &spring.Estimate{Value: *val(9.4, 1.1), Bound: spring.AtLeast},
		Verdict: spring.Fits, Whole: spring.Whole{Verdict: spring.AllFits, Says: "The spring fits this barrel"}, HalfCircle: 0.046283, FillLow: 0.40, FillHigh: 0.60,
		Rules:   []spring.Rule{{Name: "arbor a third of the bore", Held: spring.Kept, Says: "The arbor is 0.250 of the bore.", Source: "common practice, no source"}},
		Stock:   []spring.StockLine{{Name: "drawer 3", Thickness: 0.00055, Height: 0.032, Length: 2.7, Turns: 11.99, Fill: 0.5, StrengthRatio: 0.98, Verdict: spring.Fits}},
		Budget:  []spring.BudgetLine{{Input: "strip", Share: 0.93, Better: "a micrometer"}},
		Reasons: []string{"The strip fills 0.526 of the room, and 0.40 to 0.60 fits; it leans to the long side, at a cost of 0.2 % of the turns."},
		Working: []string{"L* = π(D² − d²)/(8t)", "   = π(63.50² − 15.875²)/(8 × 0.5588)", "   = 2656.6 mm"},
		Cautions: []string{"A wound mainspring holds about 9 J: enough to break a hand. Let it down before the barrel is opened, " +
			"use a proper winder, and keep face and hands out of its way. Local rules and trained practice come first."},
		Next: []string{"Measure the strip with a micrometer at five places: it rules the doubt."},
	}
}

// springCase is any spring of round sizes, in millimetres; a length of 0 is one
// that isn't known.
func springCase(bore, arbor, strip, length float64, verdict spring.Verdict) *spring.Result {
	mm := func(v, u float64) *quantity.Value { return val(v*1e-3, u*1e-3) }
	r := &spring.Result{FillLow: 0.40, FillHigh: 0.60, Bore: mm(bore, 0.01), Arbor: mm(arbor, 0.01), Strip: mm(strip, 0.002), Verdict: verdict,
		Whole: spring.Whole{Says: map[spring.Verdict]string{
			spring.Fits: "The length fits; height not measured", spring.Short: "The spring is too short for this barrel",
			spring.Long: "The spring is too long for this barrel", spring.DoesNotGo: "The length fits; too high for the barrel by 0.300 ± 0.047 mm",
			spring.CannotTell: "Cannot tell yet whether the spring fits: length not known",
		}[verdict]}}
	ideal := math.Pi * (bore*bore - arbor*arbor) / (8 * strip)
	r.IdealLength = mm(ideal, ideal*0.004)
	if length > 0 {
		r.Length = mm(length, 2)
		r.Fill = val(length/ideal/2, 0.004)
		wound := math.Sqrt(arbor*arbor + 4*length*strip/math.Pi)
		rundown := math.Sqrt(max(0, bore*bore-4*length*strip/math.Pi))
		r.Wound, r.Rundown = mm(wound, 0.1), mm(rundown, 0.1)
		r.Turns, r.TurnsBest = val((wound+rundown-bore-arbor)/2/strip, 0.05), val(math.Sqrt(2*(bore*bore+arbor*arbor))/2/strip-(bore+arbor)/2/strip, 0.05)
	}
	return r
}

// beatExample is a ten-minute run of a seconds pendulum that gains 12 s/day, 0.6
// ms out of beat, with one late beat and one break.
func beatExample() *beat.Result {
	r := &beat.Result{
		Rate:      beat.Rate{Value: quantity.Value{V: 12.31, U: 0.21, K: 0.41 / 0.21}},
		IntervalS: 0.999858, BeatsPerHour: 3600.5, NominalBeatsH: 3600,
		TickTock: quantity.Value{V: 0.00121, U: 0.000012}, BeatError: quantity.Value{V: 0.000605, U: 0.000006},
		Beats: 596, Missed: 4, Spurious: 2, Segments: 2, DurationS: 600,
		TimeBase: beat.TimeBase{OffsetPPM: quantity.Value{V: 2950, U: 1.4}, Source: "host", HostSynchronised: true},
		Reasons:  []string{"The device's count runs 2950 ppm fast of the host's clock and was corrected for it."},
		Next:     []string{"Move the crutch until tick and tock are even, then time it again."},
		Warnings: []string{"Four beats were missed: move the sensor nearer."},
	}
	rng := rand.New(rand.NewPCG(7, 0))
	for i := range 600 {
		odd := i%2 == 1
		late := 0.00008*rng.NormFloat64() + 0.0003*math.Sin(2*math.Pi*float64(i)/60)
		if i == 333 {
			late += 0.002
		}
		r.Trace = append(r.Trace, beat.TracePoint{TimeS: float64(i) * 0.999858, ResidualS: late, Odd: odd, After: i == 0 || i == 410})
	}
	for i := range 4 {
		r.ShortTerm = append(r.ShortTerm, beat.Short{TimeS: 120*float64(i) + 60, SpanS: 120,
			Rate: quantity.Value{V: 12.3 + 0.9*math.Sin(float64(i)), U: 0.25}})
	}
	r.BeatsPerTooth = 2
	for i := range 60 {
		r.Fold = append(r.Fold, beat.FoldPoint{Place: i, ResidualS: quantity.Value{
			V: 0.0003*math.Sin(2*math.Pi*float64(i)/60) + 0.00003*rng.NormFloat64(), U: 0.000028}})
	}
	for _, w := range []struct {
		arbor     int
		name      string
		period, a float64
		clear     bool
	}{{4, "escape", 60, 0.0003, true}, {3, "third", 450, 0.00002, false}, {2, "centre", 3600, 0.00006, false}} {
		r.Wheels = append(r.Wheels, beat.Wheel{Arbor: w.arbor, Name: w.name, PeriodS: w.period,
			Amplitude: quantity.Value{V: w.a, U: 0.000014 * math.Sqrt(w.period/60)}, Significant: w.clear})
	}
	for i := range 8 {
		tau := math.Pow(2, float64(i))
		dev := 1e-4/tau + 2e-6
		r.Stability = append(r.Stability, beat.Stability{TauS: tau, ADev: dev, Low: dev * 0.9, High: dev * 1.15, N: 600 - int64(2*tau)})
	}
	return r
}

func stabilityExample() *stability.Result {
	var r stability.Result
	for i := range 14 {
		tau := math.Pow(2, float64(i))
		dev := math.Hypot(9e-5/tau, math.Hypot(6e-6/math.Sqrt(tau), 4e-9*math.Sqrt(tau)*3))
		low, high, mdev := dev*(1-0.02*float64(i+1)), dev*(1+0.035*float64(i+1)), dev*0.7
		noise := stability.WhitePhase
		switch {
		case i > 10:
			noise = stability.RandomWalk
		case i > 6:
			noise = stability.WhiteFrequency
		}
		r.Rows = append(r.Rows, stability.Row{TauS: tau, N: 1 << (16 - i), OADev: &dev, MDev: &mdev, Low: &low, High: &high, Noise: noise})
	}
	return &r
}

// goingExample is a week of daily checks with an adjustment in the middle.
func goingExample() (*going.Result, sessions.Record) {
	start := time.Date(2026, 3, 9, 8, 0, 0, 0, time.UTC)
	rec := sessions.Record{Clock: sessions.Clock{Name: "Orchard House regulator", Zone: "Europe/Paris", Train: "96/8,80/10,75/10,30", BeatsPerHour: 3600}}
	g := &going.Result{
		Checks: 8, SpanDays: 7, ErrorNow: val(16.4, 0.3), MeanRate: val(2.34, 0.06), Trend: val(-0.11, 0.05),
		Nut:      &going.Nut{PerTurn: quantity.Value{V: 58.2, U: 2.4}, Source: "record", Advice: val(-0.028, 0.004)},
		Forecast: val(27.2, 2.1),
		Reasons:  []string{"The rate fell from 4.2 to 0.9 s/day after the nut was turned."},
		Next:     []string{"Turn the rating nut 0.03 of a turn to make it lose."},
	}
	errors := []float64{0, 4.3, 8.4, 12.7, 13.5, 14.6, 15.4, 16.4}
	for i, e := range errors {
		at := start.Add(time.Duration(i) * 24 * time.Hour)
		seg, model := 0, 4.22*float64(i)
		if i > 3 {
			seg, model = 1, 12.66+0.93*float64(i-3)
		}
		rec.Checks = append(rec.Checks, sessions.Check{At: at, ErrorS: e, U: 0.15})
		g.Curve = append(g.Curve, going.CurvePoint{At: at, ErrorS: e, ModelS: model, Segment: seg})
		if i > 0 {
			g.Daily = append(g.Daily, going.Daily{From: at.Add(-24 * time.Hour), To: at, Rate: quantity.Value{V: e - errors[i-1], U: 0.21}})
		}
	}
	cut := start.Add(74 * time.Hour)
	g.Segments = []going.Segment{
		{From: start, To: cut, Rate: quantity.Value{V: 4.22, U: 0.07}},
		{From: cut, To: start.Add(7 * 24 * time.Hour), Rate: quantity.Value{V: 0.93, U: 0.07}, After: sessions.EventAdjusted}}
	g.RateNow = &g.Segments[1].Rate
	rec.Events = []sessions.Event{
		{At: start.Add(time.Hour), Kind: sessions.EventWound},
		{At: start.Add(26 * time.Hour), Kind: sessions.EventOiled, Text: "pallets"},
		{At: start.Add(30 * time.Hour), Kind: sessions.EventRemark, Text: "door left open, a cold draught"},
		{At: cut, Kind: sessions.EventAdjusted, Turns: -0.05, HasTurns: true},
		{At: start.Add(160 * time.Hour), Kind: sessions.EventWound},
	}
	for i := range 7 * 48 {
		h := float64(i) / 2
		rec.Air = append(rec.Air, sessions.Air{At: start.Add(time.Duration(i) * 30 * time.Minute), HasTemperature: true,
			TemperatureC: 18.5 + 1.8*math.Sin(2*math.Pi*(h-4)/24) + 0.01*h})
	}
	return g, rec
}

func findingsExample() Findings {
	g, rec := goingExample()
	return Findings{Record: rec, Spring: springExample(), Rate: beatExample(), Stability: stabilityExample(), Going: g}
}

// sheetExample is the whole of it, with readings of every state and an inch
// reading whose text HTML must escape.
func sheetExample() SheetInput {
	f := findingsExample()
	at := time.Date(2026, 3, 9, 7, 30, 0, 0, time.UTC)
	for i, r := range []sessions.Reading{
		{Dimension: "zero", Value: 0.00001, Step: 1e-5, Text: "0.01mm\r\n", State: sessions.Kept},
		{Dimension: "bore", Value: 0.0635, Step: 1e-5, Text: "63.50mm\r\n", State: sessions.Kept},
		{Dimension: "bore", Value: 0.06351, Step: 1e-5, Text: "63.51mm\r\n", State: sessions.Kept},
		{Dimension: "bore", Value: 0.0536, Step: 1e-5, Text: "53.60mm\r\n", State: sessions.Doubtful, Why: "9.90 mm from its fellows"},
		{Dimension: "arbor", Value: 0.0158, Step: 1e-5, Text: "15.80mm\r\n", State: sessions.Undone, Why: "jaws closed"},
		{Dimension: "arbor", Value: 0.015875, Text: `5/8"`, State: sessions.Kept, Instrument: "typed"},
		{Dimension: "coils", Value: 16, Text: "16", State: sessions.Kept, Instrument: "typed"},
	} {
		r.ID, r.Part, r.At = int64(i+1), "barrel", at.Add(time.Duration(i)*20*time.Second)
		if r.Instrument == "" {
			r.Instrument = "caliper"
		}
		f.Record.Readings = append(f.Record.Readings, r)
	}
	return SheetInput{Findings: f, Made: time.Date(2026, 3, 16, 17, 5, 0, 0, time.UTC), Version: "0.1"}
}

package going

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

func day(d float64) time.Time { return begin.Add(time.Duration(d * 24 * float64(time.Hour))) }

func check(d, e, u float64) sessions.Check { return sessions.Check{At: day(d), ErrorS: e, U: u} }

func analyse(t *testing.T, in In) Result {
	t.Helper()
	r, err := Analyse(in)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestFewChecks(t *testing.T) {
	r := analyse(t, In{})
	if r.Checks != 0 || r.ErrorNow != nil || r.MeanRate != nil || !contains(r.Next, "evenbeat check") {
		t.Errorf("no check: %+v", r)
	}
	r = analyse(t, In{Checks: []sessions.Check{check(0, -7.5, 0.3)}})
	if r.Checks != 1 || *r.ErrorNow != (quantity.Value{V: -7.5, U: 0.3}) || r.MeanRate != nil || !contains(r.Next, "second check") {
		t.Errorf("one check: %+v", r)
	}
	if !contains(r.Reasons, "7.50 ± 0.59 s slow on 2 Mar 2026 09:00") {
		t.Errorf("one check: %q", r.Reasons)
	}
	r = analyse(t, In{Checks: []sessions.Check{check(0, 1, 0.3), check(2, 5, 0.4)}})
	// By hand: (5 − 1)/2 = 2 s/day, √(0.3² + 0.4²)/2 = 0.25.
	if math.Abs(r.MeanRate.V-2) > 1e-12 || math.Abs(r.MeanRate.U-0.25) > 1e-12 {
		t.Errorf("two checks: mean rate %+v, want 2, u 0.25", *r.MeanRate)
	}
	if r.Trend != nil || r.Factors != nil || len(r.Daily) != 0 {
		t.Errorf("two checks tell too much: %+v", r)
	}
	// Nothing in two checks tells how the clock wanders: what is usual of clocks
	// leaves some twenty seconds for a week, neither a few nor minutes.
	if f := r.Forecast; math.Abs(f.V-19) > 1e-6 || f.Half95() < 5 || f.Half95() > 40 {
		t.Errorf("two checks: forecast %+v, want 19 and some 20 either way", *f)
	}
}

// TestMeanIsEndToEnd: neither the middle checks nor a line through all move it.
func TestMeanIsEndToEnd(t *testing.T) {
	r := analyse(t, In{Checks: []sessions.Check{check(3, 30, 0.1), check(0, 0, 0.1), check(1, -5, 0.1), check(2, 40, 0.1)}})
	if math.Abs(r.MeanRate.V-10) > 1e-12 || math.Abs(r.MeanRate.U-math.Hypot(0.1, 0.1)/3) > 1e-12 {
		t.Errorf("got %+v, want 10", *r.MeanRate)
	}
	if len(r.Daily) != 3 || math.Abs(r.Daily[1].Rate.V-45) > 1e-9 {
		t.Errorf("daily %+v", r.Daily)
	}
}

func TestDailyTakesTheNearestToADay(t *testing.T) {
	r := analyse(t, In{Checks: []sessions.Check{check(0, 0, 0.1), check(0.4, 1, 0.1), check(0.9, 2, 0.1), check(1.05, 2.1, 0.1), check(4, 8, 0.1)}})
	if len(r.Daily) != 1 || !r.Daily[0].To.Equal(day(1.05)) || math.Abs(r.Daily[0].Rate.V-2) > 1e-9 {
		t.Errorf("got %+v", r.Daily)
	}
}

// TestHandsSet: a clock that gains 4 s/day, set back by hand; with the error
// before and after noted nothing is lost, without it the stretch across is.
func TestHandsSet(t *testing.T) {
	set := sessions.Event{At: day(2.5), Kind: sessions.EventSet, Before: 10, After: 0.5, HasBefore: true, HasAfter: true}
	checks := []sessions.Check{check(0, 0, 0.2), check(2, 8, 0.2), check(3, 2.5, 0.2), check(4, 6.5, 0.2)}
	r := analyse(t, In{Checks: checks, Events: []sessions.Event{set}})
	if r.Checks != 4 || math.Abs(r.MeanRate.V-4) > 1e-9 || math.Abs(r.MeanRate.U-0.4/4) > 1e-12 {
		t.Errorf("noted: %d checks, mean %+v, want 4 with u 0.1", r.Checks, *r.MeanRate)
	}
	set.HasBefore, set.HasAfter = false, false
	r = analyse(t, In{Checks: checks, Events: []sessions.Event{set}})
	if math.Abs(r.MeanRate.V-4) > 1e-9 || math.Abs(r.MeanRate.U-0.4/3) > 1e-12 {
		t.Errorf("not noted: mean %+v, want 4 with u 0.133", *r.MeanRate)
	}
	if !contains(r.Reasons, "Of the 4.0 days from first to last check only 3.0 days count") {
		t.Errorf("the lost stretch is not told: %q", r.Reasons)
	}
	if len(r.Segments) != 1 {
		t.Errorf("setting the hands changes no rate: segments %+v", r.Segments)
	}
	last := sessions.Event{At: day(5), Kind: sessions.EventSet, Before: 10.5, After: 0, HasBefore: true, HasAfter: true}
	if r = analyse(t, In{Checks: checks, Events: []sessions.Event{set, last}}); r.ErrorNow.V != 0 {
		t.Errorf("error after the hands were set right: %+v", *r.ErrorNow)
	}
	only := analyse(t, In{Checks: checks[1:3], Events: []sessions.Event{set}})
	if only.MeanRate != nil || !contains(only.Reasons, "there is no rate yet") {
		t.Errorf("no two checks hang together: %+v", only)
	}
}

func TestStoppedAndStarted(t *testing.T) {
	in := In{
		Checks: []sessions.Check{check(0, 0, 0.2), check(3, 9, 0.2), check(6, 0, 0.2), check(8, 10, 0.2)},
		Events: []sessions.Event{{At: day(4), Kind: sessions.EventStopped}, {At: day(5), Kind: sessions.EventStarted}},
	}
	r := analyse(t, in)
	if len(r.Segments) != 2 || math.Abs(r.Segments[0].Rate.V-3) > 1e-9 || math.Abs(r.Segments[1].Rate.V-5) > 1e-9 || r.Segments[1].After != sessions.EventStarted {
		t.Errorf("segments %+v", r.Segments)
	}
	if want := (9.0 + 10) / 5; math.Abs(r.MeanRate.V-want) > 1e-9 {
		t.Errorf("mean %+v, want %g over the going alone", *r.MeanRate, want)
	}
	in.Events = in.Events[:1]
	if r = analyse(t, in); !contains(r.Reasons, "no start is noted") || len(r.Segments) != 2 {
		t.Errorf("a start that was not noted: %q", r.Reasons)
	}
	in.Events = []sessions.Event{{At: day(9), Kind: sessions.EventStopped}}
	if r = analyse(t, in); !contains(r.Next, "The clock has stopped") || r.Nut != nil {
		t.Errorf("a clock that stands: %q", r.Next)
	}
}

// Work on the clock parts the record: the dial before and after has nothing to do with
// each other, and each stretch has its own rate.
func TestWorkPartsTheRecord(t *testing.T) {
	checks := []sessions.Check{check(0, 0, 0.2), check(3, 9, 0.2), check(5, 100, 0.2), check(8, 115, 0.2)}
	for kind, was := range map[string]string{sessions.EventCleaned: "it was cleaned", sessions.EventRepaired: "it was repaired",
		sessions.EventBushed: "it was bushed", sessions.EventReplaced: "a part was replaced"} {
		r := analyse(t, In{Checks: checks, Events: []sessions.Event{{At: day(4), Kind: kind}}})
		if len(r.Segments) != 2 || math.Abs(r.Segments[0].Rate.V-3) > 1e-9 || math.Abs(r.Segments[1].Rate.V-5) > 1e-9 || r.Segments[1].After != kind {
			t.Errorf("%s: segments %+v", kind, r.Segments)
		}
		if !contains(r.Reasons, "Since "+was+" on ") {
			t.Errorf("%s: %q", kind, r.Reasons)
		}
		r = analyse(t, In{Checks: checks, Events: []sessions.Event{{At: day(9), Kind: kind}}})
		if !contains(r.Next, strings.TrimPrefix(was, "it ")[1:]+" after the last check: check the dial now") {
			t.Errorf("%s after the last check: %q", kind, r.Next)
		}
	}
}

// turned is a clock that gains 20 s/day until its nut is turned half a turn down
// on day 4, and 5 s/day from then on.
func turned() In {
	in := In{Events: []sessions.Event{{At: day(4), Kind: sessions.EventAdjusted, Turns: -0.5, HasTurns: true}}}
	for d := range 5 {
		in.Checks = append(in.Checks, check(float64(d), 20*float64(d), 0.1))
	}
	for d := 5; d <= 8; d++ {
		in.Checks = append(in.Checks, check(float64(d), 80+5*float64(d-4), 0.1))
	}
	return in
}

func TestNutFromTheRecord(t *testing.T) {
	r := analyse(t, turned())
	if len(r.Segments) != 2 || math.Abs(r.Segments[0].Rate.V-20) > 1e-9 || math.Abs(r.Segments[1].Rate.V-5) > 1e-9 {
		t.Fatalf("segments %+v", r.Segments)
	}
	// By hand: (5 − 20)/(−0.5) = 30 s/day a turn; −5/30 of a turn brings it to zero.
	n := r.Nut
	if n == nil || n.Source != fromRecord || math.Abs(n.PerTurn.V-30) > 0.05 || !(n.PerTurn.U > 0.1) {
		t.Fatalf("nut %+v", n)
	}
	if math.Abs(n.Advice.V+5.0/30) > 0.001 || n.Advice.Covers(0) || !contains(r.Next, "to make it lose") {
		t.Errorf("advice %+v, next %q", *n.Advice, r.Next)
	}
}

// TestSegmentBetweenChecks: a nut turned halfway between two checks; the model
// shares that stretch out between the rates before and after it, and knows the
// third segment, of which no two checks tell, from what is left.
func TestSegmentBetweenChecks(t *testing.T) {
	in := In{Events: []sessions.Event{{At: day(4.5), Kind: sessions.EventMoved}, {At: day(9.5), Kind: sessions.EventAdjusted}}}
	for d := range 10 {
		e := 20*float64(d) - 12*max(0, float64(d)-4.5)
		in.Checks = append(in.Checks, check(float64(d), e, 0.1))
	}
	in.Checks = append(in.Checks, check(10, 20*9-12*4.5+4+1, 0.1))
	r := analyse(t, in)
	want := []float64{20, 8, 2}
	if len(r.Segments) != 3 {
		t.Fatalf("segments %+v", r.Segments)
	}
	for i, s := range r.Segments {
		if math.Abs(s.Rate.V-want[i]) > 0.05 || !s.Rate.Covers(want[i]) {
			t.Errorf("segment %d: %+v, want %g", i, s.Rate, want[i])
		}
	}
	if r.Segments[2].Rate.U < 0.2 || r.Nut != nil {
		t.Errorf("half a day tells little, and turns were not noted: %+v, %+v", r.Segments[2].Rate, r.Nut)
	}
}

// TestTwoTurnsBetweenChecks: with no going seen between them they are one, and
// their turns add up.
func TestTwoTurnsBetweenChecks(t *testing.T) {
	in := turned()
	in.Events[0].Turns = -0.3
	in.Events = append(in.Events,
		sessions.Event{At: day(4.01), Kind: sessions.EventSet},
		sessions.Event{At: day(4.02), Kind: sessions.EventStarted},
		sessions.Event{At: day(4.03), Kind: sessions.EventAdjusted, Turns: -0.2, HasTurns: true})
	r := analyse(t, in)
	if len(r.Segments) != 2 || r.Segments[1].After != sessions.EventAdjusted || r.Nut == nil || math.Abs(r.Nut.PerTurn.V-30) > 0.05 {
		t.Errorf("segments %+v, nut %+v", r.Segments, r.Nut)
	}
}

func TestNutTurnedAfterTheLastCheck(t *testing.T) {
	in := turned()
	in.Events = append(in.Events, sessions.Event{At: day(8), Kind: sessions.EventAdjusted, Turns: -0.17, HasTurns: true})
	r := analyse(t, in)
	if r.Nut == nil || r.Nut.Advice != nil || !contains(r.Next, "before anything is turned") {
		t.Errorf("advice for a rate that is no more: %+v, %q", r.Nut, r.Next)
	}
}

func TestNutSignNotedWrong(t *testing.T) {
	in := turned()
	in.Events[0].Turns = 0.5
	if r := analyse(t, in); r.Nut != nil || !contains(r.Reasons, "wrong way round") {
		t.Errorf("nut %+v, %q", r.Nut, r.Reasons)
	}
}

// TestNutThatTheThreadContradicts: the record is believed where it says what no thread so
// noted can do, and where it says that a turn does nothing there is no advice.
func TestNutThatTheThreadContradicts(t *testing.T) {
	in := turned() // 30 s/day a turn
	in.NutPitch, in.Length = 1.4e-3, quantity.Value{V: 0.994}
	r := analyse(t, in)
	if r.Nut == nil || r.Nut.Source != fromRecord || !r.Nut.PerTurn.Covers(30) || !contains(r.Reasons, "are pitch and turns noted right?") {
		t.Errorf("nut %+v, reasons %q", r.Nut, r.Reasons)
	}
	for i := range in.Checks {
		in.Checks[i].ErrorS = 20 * float64(i)
	}
	if r = analyse(t, in); r.Nut != nil || !contains(r.Reasons, "did the bob follow the nut") {
		t.Errorf("a turn that did nothing: nut %+v, reasons %q", r.Nut, r.Reasons)
	}
}

// TestNutFromTheThread: 18 threads to the inch on a seconds pendulum of 39.14 in is
// about a minute a day (Beckett, Rudimentary Treatise, 8th ed., p. 50: l/720, "1/18
// in"); exactly 61.38 s/day with all the weight in the bob. Rods take up to 15 % of that,
// so that 56.78 is the middle.
func TestNutFromTheThread(t *testing.T) {
	in := In{NutPitch: 0.0254 / 18, Length: quantity.Value{V: 39.14 * 0.0254}}
	for d := range 8 {
		in.Checks = append(in.Checks, check(float64(d), 12.2*float64(d), 0.1))
	}
	r := analyse(t, in)
	n := r.Nut
	if n == nil || n.Source != fromGeometry || fmt.Sprintf("%.2f", n.PerTurn.V) != "56.78" {
		t.Fatalf("nut %+v", n)
	}
	for _, does := range []float64{61.38, 60, 0.85 * 61.38} {
		if !n.PerTurn.Covers(does) {
			t.Errorf("%.1f s/day a turn is outside %+v", does, n.PerTurn)
		}
	}
	if math.Abs(n.Advice.V+12.2/56.78) > 0.001 {
		t.Errorf("advice %+v, want -0.215 turns", *n.Advice)
	}
	// A rate that its own wandering swallows is left alone.
	for i := range in.Checks {
		in.Checks[i].ErrorS = 0.1 * float64(i%2)
	}
	if r = analyse(t, in); !contains(r.Reasons, "Leave the nut") || contains(r.Next, "Turn the nut") {
		t.Errorf("reasons %q, next %q", r.Reasons, r.Next)
	}
	// A restless clock's next week is less sure than its last.
	// 2 s/√day leaves 2/√7 s/day for the mean of a week, and 2/√60 for that of the record.
	restless := made{days: 60, every: 1, rate: 0, phase: 2, u: 0.1}.clock(6).in
	restless.NutPitch, restless.Length = in.NutPitch, in.Length
	if r = analyse(t, restless); math.Abs(r.Nut.Advice.U*56.78/(2*math.Sqrt(1.0/7+1.0/60))-1) > 0.3 {
		t.Errorf("advice %+v for a mean rate %+v: the wandering is left out", *r.Nut.Advice, *r.MeanRate)
	}
	in.Balance = true
	if r = analyse(t, in); r.Nut != nil {
		t.Errorf("a balance has no rating nut: %+v", r.Nut)
	}
}

// TestNotWorthATurn: a certain 1.5 s/day, with 56.8 s/day a turn, is 0.026 turns, and
// 1.5·91 = 136.5 s in three months. That isn't the same answer as a rate that can't be
// told from none.
func TestNotWorthATurn(t *testing.T) {
	in := In{NutPitch: 0.0254 / 18, Length: quantity.Value{V: 39.14 * 0.0254}}
	for d := range 61 {
		in.Checks = append(in.Checks, check(float64(d), 1.5*float64(d), 0.1))
	}
	r := analyse(t, in)
	if !contains(r.Reasons, "Not worth turning the nut: 0.026") || !contains(r.Reasons, "comes to +136.") || contains(r.Next, "Turn the nut") {
		t.Errorf("advice %+v, reasons %q, next %q", *r.Nut.Advice, r.Reasons, r.Next)
	}
	if contains(r.Reasons, "can't be told from none") {
		t.Errorf("two answers at once: %q", r.Reasons)
	}
}

// TestWindingToWinding: a clock that loses 0.02 s/day more with each hour since winding
// is turned just before it is wound, and seen for three days. Then it gains 1.44 − 0.72
// s/day, and from winding to winding it loses 0.24.
func TestWindingToWinding(t *testing.T) {
	m := made{days: 45, every: 1, rate: 6, phase: 0.05, perHour: -0.02, u: 0.05, windEvery: 7, nut: []turn{{42, -0.1425714}}, perTurn: 32}
	in := m.clock(3).in
	in.Air = nil
	r := analyse(t, in)
	if f := factorNamed(r, winding); f == nil || !f.Significant {
		t.Fatalf("the winding doesn't show: %+v", r.Factors)
	}
	if math.Abs(r.RateNow.V-0.72) > 0.15 {
		t.Fatalf("rate now %+v", r.RateNow)
	}
	if advice := r.Nut.Advice.V * r.Nut.PerTurn.V; math.Abs(advice-0.24) > 0.15 {
		t.Errorf("advice %+v is for %.2f s/day, want 0.24", *r.Nut.Advice, advice)
	}
}

func TestBounds(t *testing.T) {
	in := turned()
	in.From, in.To = day(5), day(8)
	r := analyse(t, in)
	if r.Checks != 4 || math.Abs(r.MeanRate.V-5) > 1e-9 || len(r.Segments) != 1 {
		t.Errorf("%d checks, mean %+v, segments %+v", r.Checks, r.MeanRate, r.Segments)
	}
}

func TestRefuses(t *testing.T) {
	nan := math.NaN()
	for name, in := range map[string]In{
		"check":     {Checks: []sessions.Check{check(0, nan, 0.1)}},
		"u":         {Checks: []sessions.Check{check(0, 1, -1)}},
		"u inf":     {Checks: []sessions.Check{check(0, 1, math.Inf(1))}},
		"setting":   {Events: []sessions.Event{{At: day(0), Kind: sessions.EventSet, After: math.Inf(1), HasAfter: true}}},
		"turns":     {Events: []sessions.Event{{At: day(0), Kind: sessions.EventAdjusted, Turns: nan, HasTurns: true}}},
		"air":       {Air: []sessions.Air{{At: day(0), TemperatureC: nan, HasTemperature: true}}},
		"amplitude": {Amplitudes: []Sample{{At: day(0), Value: -1}}},
		"pitch":     {NutPitch: nan},
		"length":    {Length: quantity.Value{V: math.Inf(1)}},
	} {
		if _, err := Analyse(in); err == nil {
			t.Errorf("%s was taken", name)
		} else if _, ok := errors.AsType[*quantity.InputError](err); !ok {
			t.Errorf("%s: %v is no *quantity.InputError", name, err)
		}
	}
}

func TestRodBounds(t *testing.T) {
	steel, err := pendulum.ParseRod("steel")
	if err != nil {
		t.Fatal(err)
	}
	c := In{Rod: &steel}.temperatureBounds()
	// Steel rod, -0.498 s/day/K (Beckett p. 53: 0.2765 per °F), must be allowed; what a brass one does, -0.78, not.
	if !(c.low < -0.498 && c.low > -0.78 && c.high > 0) {
		t.Errorf("steel: %g to %g", c.low, c.high)
	}
}

// finite walks every figure of a result.
func finite(t *testing.T, r Result) {
	t.Helper()
	see := func(name string, v *quantity.Value) {
		if v != nil && (!v.Finite() || v.U < 0 || math.IsNaN(v.K) || math.IsInf(v.K, 0)) {
			t.Errorf("%s: %+v", name, *v)
		}
	}
	see("error", r.ErrorNow)
	see("mean", r.MeanRate)
	see("trend", r.Trend)
	see("forecast", r.Forecast)
	for _, d := range r.Daily {
		see("daily", &d.Rate)
	}
	for _, s := range r.Segments {
		see("segment", &s.Rate)
	}
	for _, f := range r.Factors {
		see(f.Name, &f.PerUnit)
	}
	if r.Nut != nil {
		see("per turn", &r.Nut.PerTurn)
		see("advice", r.Nut.Advice)
	}
	for _, a := range r.Advice {
		see("expected", a.Expected)
		see("came", a.Came)
	}
	for _, c := range r.Curve {
		if math.IsNaN(c.ModelS) || math.IsInf(c.ModelS, 0) {
			t.Errorf("curve: %+v", c)
		}
	}
}

// FuzzAnalyse makes a record of the bytes: whatever is in the book, no figure is
// ever NaN or infinite, and nothing panics.
func FuzzAnalyse(f *testing.F) {
	f.Add([]byte{0, 10, 1, 10, 20, 1, 3, 10, 2, 6, 10, 9, 0, 20, 4, 1, 5, 3, 0, 10, 3, 7, 30, 200, 0, 1, 1})
	kinds := sessions.EventKinds()
	f.Fuzz(func(t *testing.T, raw []byte) {
		var in In
		d := 0.0
		for len(raw) >= 3 && len(in.Checks)+len(in.Events) < 60 {
			what, gap, v := raw[0], raw[1], float64(int8(raw[2]))
			raw = raw[3:]
			d += float64(gap) * float64(gap) / 400
			switch {
			case what%4 < 2:
				in.Checks = append(in.Checks, check(d, v*v*v/100, float64(what/4)/100))
			case what%4 == 2:
				in.Air = append(in.Air, sessions.Air{At: day(d), TemperatureC: v, PressureHPa: 1000 + v, HasTemperature: true, HasPressure: what > 100})
			default:
				in.Events = append(in.Events, sessions.Event{At: day(d), Kind: kinds[int(what/4)%len(kinds)], Turns: v / 10, HasTurns: what > 100, Before: v, HasBefore: what > 150, HasAfter: what > 90})
			}
		}
		in.NutPitch, in.Length = 1e-3, quantity.Value{V: 1, U: 0.001}
		r, err := Analyse(in)
		if err != nil {
			t.Fatal(err)
		}
		finite(t, r)
	})
}

func BenchmarkYear(b *testing.B) {
	tr := made{days: 365, every: 1, rate: 2, phase: 0.3, wander: 0.02, perK: -0.4, perHPa: -0.01, u: 0.2, windEvery: 7}.clock(1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Analyse(tr.in); err != nil {
			b.Fatal(err)
		}
	}
}

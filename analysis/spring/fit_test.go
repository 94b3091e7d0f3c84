package spring

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

const mm = 1e-3

// typed returns a length with an assumed limit of error ±a; metres.
func typed(name string, v, a float64, key string) *uncertainty.Quantity {
	q := uncertainty.Limit(name, v, a, key, uncertainty.CauseAssumed)
	return &q
}

// millimetres is a spring without uncertainty, for sums by hand.
func millimetres(bore, arbor, strip, length float64) Input {
	exact := func(name string, v float64) *uncertainty.Quantity {
		q := uncertainty.Exact(name, v*mm)
		return &q
	}
	in := Input{Bore: exact("bore", bore), Arbor: exact("arbor", arbor), Strip: exact("strip", strip), Limits: DefaultLimits()}
	if length > 0 {
		in.Length = exact("length", length)
	}
	return in
}

// inches is the spring of the command line: bore 2.5 in, arbor 0.625 in, strip 22
// thou, length 110 in (dimensions: common practice, no source; sums by the closed
// form), typed, so each with an assumed limit: ±0.02 mm outside, ±0.04 mm inside
// (DIN 862: 20 µm, and 20 µm more inside), ±5 mm for the length of a strip.
func inches() Input {
	return Input{
		Bore:   typed("bore", 2.5*0.0254, 0.04*mm, "typed, inside"),
		Arbor:  typed("arbor", 0.625*0.0254, 0.02*mm, "typed, outside"),
		Strip:  typed("strip", 0.022*0.0254, 0.02*mm, "typed, outside"),
		Length: typed("length", 110*0.0254, 5*mm, "typed, long"),
		Limits: DefaultLimits(), Units: quantity.Imperial,
	}
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.8g, want %.8g ± %.2g", what, got, want, tolerance)
	}
}

func mustFit(t *testing.T, in Input) Result {
	t.Helper()
	r, err := Fit(in)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func has(lines []string, part string) bool { return strings.Contains(strings.Join(lines, "\n"), part) }

func TestFitTyped(t *testing.T) {
	r := mustFit(t, inches())
	within(t, "half area, m²", r.HalfArea.V, 0.0014845, 5e-8)
	within(t, "half area, in²", r.HalfArea.V/0.0254/0.0254, 2.301, 5e-4)
	within(t, "ideal length, m", r.IdealLength.V, 2.6566, 5e-5)
	within(t, "ideal length, in", r.IdealLength.V/0.0254, 104.59, 5e-3)
	within(t, "fill", r.Fill.V, 0.5259, 5e-5)
	within(t, "turns", r.Turns.V, 11.782, 5e-4)
	within(t, "greatest turns", r.TurnsBest.V, 11.803, 5e-4)
	if r.Verdict != Fits {
		t.Errorf("verdict %q, want fits", r.Verdict)
	}
	if !has(r.Working, "104.59 in") || !has(r.Working, "not this: π(D² + d²)/(8t) = 118.5") {
		t.Errorf("working lacks the sum or the slip:\n%s", strings.Join(r.Working, "\n"))
	}
	// The strip rules: 13 of 14 parts of what is not known come from it.
	for _, b := range r.Budget {
		if b.Input == "strip" && (b.Share < 0.9 || !strings.Contains(b.Better, "micrometer")) {
			t.Errorf("budget of the strip: %+v", b)
		}
	}
}

// The worked barrel of mysterieuse-uhren.de, 5.6: D 20, d 7, t 0.25 mm. It prints a
// free area of 275.5 mm², half 137.75, L 540 mm and 5 turns; its arbor radius of
// 3.75 for 3.5 mm makes the last wrong. The closed form: 275.675, 137.837, L*
// 551.35, coil edge at 14.983, 10.033 and 15.967 coils, 5.933 turns; with L = 540
// fill 0.48971 and 5.9314 turns. About 3.5 turns serve for 8 days.
func TestFitWorkedBarrel(t *testing.T) {
	best := mustFit(t, millimetres(20, 7, 0.25, 551.35))
	within(t, "space, mm²", 2e6*best.HalfArea.V, 275.675, 5e-4)
	within(t, "space printed, mm²", 2e6*best.HalfArea.V, 275.5, 0.2)
	within(t, "half, mm²", 1e6*best.HalfArea.V, 137.837, 5.1e-4)
	within(t, "ideal length, mm", best.IdealLength.V/mm, 551.35, 5e-3)
	within(t, "half circle, mm", best.HalfCircle/mm, 14.983, 5e-4)
	within(t, "coil edge, mm", best.Rundown.V/mm, 14.983, 5e-4)
	within(t, "coils run down", best.CoilsRundown.V, 10.033, 5e-4)
	within(t, "coils wound", best.CoilsWound.V, 15.967, 5e-4)
	within(t, "turns", best.Turns.V, 5.933, 5.1e-4)
	printed := mustFit(t, millimetres(20, 7, 0.25, 540))
	within(t, "fill at 540", printed.Fill.V, 0.48971, 5e-6)
	within(t, "turns at 540", printed.Turns.V, 5.9314, 5e-5)
}

// D 45, d 15, t 0.40 (closed form, recomputed): L* 1767.146, best 8.85255; L 1600:
// fill 0.45271, Dw 32.24707, Di 34.78688, turns 8.79243; in place Di 34: L 1706.278,
// 13.75 coils.
func TestFitBarrelOf45(t *testing.T) {
	r := mustFit(t, millimetres(45, 15, 0.40, 1600))
	within(t, "ideal length, mm", r.IdealLength.V/mm, 1767.146, 5e-4)
	within(t, "greatest turns", r.TurnsBest.V, 8.85255, 5e-6)
	within(t, "fill", r.Fill.V, 0.45271, 5e-6)
	within(t, "wound, mm", r.Wound.V/mm, 32.24707, 5e-6)
	within(t, "run down, mm", r.Rundown.V/mm, 34.78688, 5e-6)
	within(t, "turns", r.Turns.V, 8.79243, 5e-6)
	in := millimetres(45, 15, 0.40, 0)
	inner, coils := uncertainty.Exact("inner", 34*mm), uncertainty.Exact("coils", 13.75)
	in.Inner = &inner
	within(t, "length by Di 34, mm", mustFit(t, in).Length.V/mm, 1706.278, 5e-4)
	in.Inner, in.Coils = nil, &coils
	within(t, "length by 13.75 coils, mm", mustFit(t, in).Length.V/mm, 1706.278, 5e-4)
}

// Any t, d = D/3: turns of the best against fill, closed form; f and 1 − f give the
// same. 0.6250 is the "thirds" rule that fills the barrel too much.
func TestTurnsAgainstFill(t *testing.T) {
	b := Barrel{Bore: 60 * mm, Arbor: 20 * mm, Strip: 0.3 * mm}
	for _, c := range []struct{ fill, want float64 }{
		{1. / 3, 0.9139}, {0.40, 0.9694}, {0.45, 0.9924}, {0.475, 0.9981}, {0.50, 1}, {0.525, 0.9981},
		{0.55, 0.9924}, {0.60, 0.9694}, {0.625, 0.9520}, {2. / 3, 0.9139},
	} {
		within(t, fmt.Sprintf("turns at fill %.3f", c.fill), 1-b.lost(c.fill), c.want, 5.1e-5)
	}
	// Greatest turns by the arbor's share of the bore, ·D/t.
	for _, c := range []struct{ share, want float64 }{{1. / 3, 0.078689}, {0.25, 0.103869}, {0.3, 0.088241}, {0.4, 0.061577}} {
		b := Barrel{Bore: 1, Arbor: c.share, Strip: 1e-3}
		within(t, fmt.Sprintf("greatest turns at d = %.3f D", c.share), b.Turns(b.IdealLength())*1e-3, c.want, 5.1e-7)
	}
	third := Barrel{Bore: 1, Arbor: 1. / 3, Strip: 1e-3}
	within(t, "L* t/D²", third.IdealLength()*1e-3, 0.349066, 5e-7)
	// Proportions of D = 100 with d = D/3, printed 33, 26, 41 (Daniels, Watchmaking,
	// ch. 9, as told at watchmaking.weebly.com): the rings, both sides together.
	l := third.IdealLength()
	within(t, "run-down ring", 100*(1-third.Rundown(l)), 25.46, 5e-3)
	within(t, "wound ring", 100*(third.Wound(l)-1./3), 41.20, 5e-3)
}

func TestVerdicts(t *testing.T) {
	for _, c := range []struct {
		name       string
		fill, uPct float64 // uPct: ±% of the strip
		want       Verdict
		says       string
	}{
		{"half", 0.5, 3, Fits, "the length is ideal"},
		{"lean", 0.56, 1, Fits, "longer than ideal"},
		{"short", 0.30, 3, Short, "too short"},
		{"long", 0.70, 3, Long, "too long"},
		{"near full", 0.98, 5, Long, "may not go in"},
		{"over full", 1.2, 3, DoesNotGo, "more than the whole space"},
		{"at the low limit", 0.40, 5, CannotTell, "limit of 40 %"},
		{"at the high limit", 0.60, 5, CannotTell, "limit of 60 %"},
	} {
		in := millimetres(45, 15, 0.40, c.fill*2*1767.146)
		in.Strip = typed("strip", 0.40*mm, 0.40*mm*c.uPct/100, "")
		r := mustFit(t, in)
		if r.Verdict != c.want || !has(r.Reasons, c.says) {
			t.Errorf("%s: %q, want %q and %q in\n%s", c.name, r.Verdict, c.want, c.says, strings.Join(r.Reasons, "\n"))
		}
		if len(r.Cautions) < 5 || len(r.Next) == 0 {
			t.Errorf("%s: cautions %d, next %d", c.name, len(r.Cautions), len(r.Next))
		}
		if r.Verdict == CannotTell && !has(r.Next, "micrometer") {
			t.Errorf("%s: next does not say what settles it: %q", c.name, r.Next)
		}
	}
	high := millimetres(45, 15, 0.40, 1767)
	high.Height, high.Depth = typed("height", 21*mm, 0.02*mm, ""), typed("depth", 20*mm, 0.04*mm, "")
	if r := mustFit(t, high); r.Verdict != DoesNotGo || !has(r.Reasons, "does not go in") {
		t.Errorf("a strip higher than the barrel: %q", r.Verdict)
	}
}

// A caliper (±0.02 mm) can't tell where the strip rules; the budget says that a
// micrometer would, and once it is used there is a verdict.
func TestMicrometerSettlesIt(t *testing.T) {
	in := millimetres(45, 15, 0.45, 1830) // fill 0.5825
	in.Bore, in.Arbor = typed("bore", 45*mm, 0.04*mm, "inside"), typed("arbor", 15*mm, 0.02*mm, "outside")
	in.Strip = typed("strip", 0.45*mm, 0.02*mm, "outside")
	r := mustFit(t, in)
	if r.Verdict != CannotTell {
		t.Errorf("with a caliper: %q (%s), want cannot tell", r.Verdict, percent(*r.Fill))
	}
	if !has(r.Next, "measure the strip with a micrometer") {
		t.Errorf("the micrometer is not asked for: %q", r.Next)
	}
	in.Strip = typed("strip", 0.45*mm, 0.002*mm, "micrometer")
	if r := mustFit(t, in); r.Verdict != Fits {
		t.Errorf("with a micrometer: %q (%s), want fits", r.Verdict, percent(*r.Fill))
	}
}

// First order against draws of the same inputs, which share the outside error: with
// 100,000 draws an end of the interval has a standard deviation of about 1 % of its
// width, and turns are curved by (4 %)² of themselves.
func TestMonteCarloAgrees(t *testing.T) {
	in := inches()
	in.MonteCarlo, in.Seed = 100_000, 5
	r := mustFit(t, in)
	if len(r.MonteCarlo) != 3 || !has(r.Reasons, "Monte Carlo, 100000 draws") {
		t.Fatalf("%d figures drawn, reasons %q", len(r.MonteCarlo), r.Reasons)
	}
	if ends := (Drawn{Low95: 0.463437, High95: 0.51}).Interval(0.01); ends != "46.3 to 51.0" {
		t.Errorf("the ends of an interval 4.7 %% wide: %s", ends)
	}
	for _, d := range r.MonteCarlo {
		within(t, d.Figure+": width over first order", (d.High95-d.Low95)/(2*d.First), 1, 0.02)
	}
}

// In place the fill needs no strip thickness: (D² − Di²)/(D² − d²).
func TestInPlaceNeedsNoStrip(t *testing.T) {
	in := millimetres(45, 15, 0.40, 0)
	in.Strip = nil
	in.Inner = typed("inner", 34*mm, 0.1*mm, "")
	r := mustFit(t, in)
	within(t, "fill", r.Fill.V, (45*45-34*34)/(45.*45-15*15), 1e-12)
	if r.Verdict != Fits || r.Turns != nil || r.IdealLength != nil {
		t.Errorf("verdict %q, turns %v, ideal %v", r.Verdict, r.Turns, r.IdealLength)
	}
	// With the strip known its error cancels all the same.
	in.Strip = typed("strip", 0.40*mm, 0.02*mm, "")
	with := mustFit(t, in)
	within(t, "u of the fill", with.Fill.U, r.Fill.U, 1e-9)
}

func TestLengthsAreCompared(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1706)
	in.Length = typed("length", 1706*mm, 5*mm, "")
	in.Inner = typed("inner", 34*mm, 0.1*mm, "")
	in.Coils = typed("coils", 13.75, 0.1, "")
	r := mustFit(t, in)
	if len(r.InPlace) != 3 || !has(r.Reasons, "agree within") || has(r.Reasons, "disagree") {
		t.Errorf("three ways to 1706 mm: %q", r.Reasons)
	}
	in.Inner = typed("inner", 32*mm, 0.1*mm, "") // looks like 1835 mm
	if r := mustFit(t, in); !has(r.Reasons, "looks longer than the strip is") {
		t.Errorf("a loose coil is not told: %q", r.Reasons)
	}
	in.Inner = typed("inner", 36*mm, 0.1*mm, "")
	if r := mustFit(t, in); !has(r.Reasons, "looks shorter than the strip is") {
		t.Errorf("a broken strip is not told: %q", r.Reasons)
	}
}

func TestPartialRecordsAreAnswered(t *testing.T) {
	whole := millimetres(45, 15, 0.40, 1700)
	for name, c := range map[string]struct {
		drop func(*Input)
		next string
	}{
		"bore":   {func(in *Input) { in.Bore = nil }, "bore of the barrel"},
		"arbor":  {func(in *Input) { in.Arbor = nil }, "Measure the arbor"},
		"strip":  {func(in *Input) { in.Strip = nil }, "thickness of the strip"},
		"length": {func(in *Input) { in.Length = nil }, "length of the strip"},
	} {
		in := whole
		c.drop(&in)
		r := mustFit(t, in)
		if r.Verdict != CannotTell || !has(r.Next, c.next) {
			t.Errorf("without %s: %q, next %q", name, r.Verdict, r.Next)
		}
	}
}

func TestFitRefuses(t *testing.T) {
	q := func(v float64) *uncertainty.Quantity { return &uncertainty.Quantity{V: v} }
	for _, c := range []struct {
		name   string
		change func(*Input)
		want   string
	}{
		{"swapped", func(in *Input) { in.Bore, in.Arbor = in.Arbor, in.Bore }, "bore 15.875 mm: must be larger than the arbor, 63.5 mm: were the two swapped?"},
		{"equal", func(in *Input) { in.Arbor = in.Bore }, "bore 63.5 mm: must be larger"},
		{"negative strip", func(in *Input) { in.Strip = q(-0.0004) }, "strip -0.4 mm: must be greater than zero"},
		{"no strip", func(in *Input) { in.Strip = q(0) }, "strip 0 mm: must be greater than zero"},
		{"thick strip", func(in *Input) { in.Strip = q(0.03) }, "strip 30 mm: must be thinner than the room"},
		{"NaN", func(in *Input) { in.Length = q(math.NaN()) }, "length NaN: must be a finite number"},
		{"infinity", func(in *Input) { in.Bore = q(math.Inf(1)) }, "bore +Inf: must be a finite number"},
		{"endless doubt", func(in *Input) {
			in.Bore = &uncertainty.Quantity{V: 0.06, Sources: []uncertainty.Source{{U: math.Inf(1)}}}
		}, "bore 0.06: must be a finite number, and so must its uncertainty"},
		{"inner over bore", func(in *Input) { in.Inner = q(0.07) }, "inner 70 mm: must be smaller than the bore"},
		{"inner under arbor", func(in *Input) { in.Inner = q(0.01) }, "inner 10 mm: must be larger than the arbor"},
		{"coils", func(in *Input) { in.Coils = q(100) }, "coils 100: so many coils"},
		{"free coils", func(in *Input) { in.FreeCoils = q(200) }, "free coils 200: this strip wound tight on the arbor has 28.1"},
		{"zero length", func(in *Input) { in.Length = q(0) }, "length 0 mm: must be greater than zero"},
		{"limits", func(in *Input) { in.Limits.FillLow = 0.7 }, "fill limits 0.7 to 0.6"},
		{"modulus", func(in *Input) { in.Limits.Modulus = math.NaN() }, "modulus"},
		{"draws", func(in *Input) { in.MonteCarlo = 10 }, "draws of the Monte Carlo 10: must be 1000 to"},
		{"train", func(in *Input) { in.BarrelTurnHours = -1 }, "barrel turn -1 h"},
		{"stock", func(in *Input) { in.Stock = []Stock{{Name: "a", Thickness: uncertainty.Quantity{V: -1}}} }, "stock a, thickness"},
		{"nothing", func(in *Input) { *in = Input{Limits: in.Limits} }, "spring: bore, arbor and strip are not known"},
	} {
		in := inches()
		in.Units = quantity.Metric
		c.change(&in)
		_, err := Fit(in)
		e, ok := errors.AsType[*quantity.InputError](err)
		if !ok || !strings.Contains(e.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", c.name, err, c.want)
		}
	}
}

// What is given rules: by an inner diameter of 34 mm the strip is 1706.278 mm long
// (π(45² − 34²)/(4 × 0.40), by hand), whatever was measured of it, and every figure
// and sentence goes by that length.
func TestGivenWayRules(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1490)
	in.Inner, in.Prefer = typed("inner", 34*mm, 0.1*mm, ""), FromInner
	r := mustFit(t, in)
	within(t, "length, mm", r.Length.V/mm, 1706.278, 5e-4)
	within(t, "fill", r.Fill.V, r.Length.V*0.40*mm/(2*r.HalfArea.V), 1e-9)
	for _, want := range []string{"61 mm shorter than ideal", "rest on the length by the inner diameter, since it was given"} {
		if !has(r.Reasons, want) {
			t.Errorf("%q is not told: %q", want, r.Reasons)
		}
	}
	if !has(r.Next, "Find out which length is right, as measured or by the inner diameter") {
		t.Errorf("two lengths that disagree are left at that: %q", r.Next)
	}
}

package spring

import (
	"math/rand/v2"
	"strings"
	"testing"

	"evenbeat/analysis/uncertainty"
)

// halfFull is a spring of ideal length, of which all that is known is good.
func halfFull() Input {
	in := millimetres(45, 15, 0.40, 1767.146)
	in.Height, in.Depth = typed("height", 20*mm, 0.02*mm, "outside"), typed("depth", 20.5*mm, 0.04*mm, "inside")
	in.Hook = Kept
	return in
}

// A spring fits once length, height, arbor and hook are known and good; else the verdict
// says what is amiss, or what isn't known.
func TestWholeSpring(t *testing.T) {
	for _, c := range []struct {
		name    string
		change  func(*Input)
		want    WholeVerdict
		length  Verdict
		says    string
		next    string
		notNext string
	}{
		{"all good", func(*Input) {}, AllFits, Fits, "The spring fits this barrel", "Fit it with a winder", "Before fitting"},
		{"no height", func(in *Input) { in.Height = nil }, LengthFits, Fits, "The length fits; height not measured", "Measure the height", "winder"},
		{"no depth", func(in *Input) { in.Depth = nil }, LengthFits, Fits, "The length fits; inside depth not measured", "Measure the inside depth", "winder"},
		{"neither", func(in *Input) { in.Height, in.Depth = nil, nil }, LengthFits, Fits, "The length fits; height and depth not measured", "Measure the height of the strip and the inside depth", "winder"},
		{"hook not seen", func(in *Input) { in.Hook = "" }, LengthFits, Fits, "Length and height fit; hook not looked at", "Before fitting, look at both ends", "Measure"},
		{"one hook seen", func(in *Input) { in.Hook = NotKnown }, LengthFits, Fits, "Length and height fit; only one of the two hooks looked at", "Before fitting, look at both ends", "Measure"},
		{"hook torn", func(in *Input) { in.Hook = Broken }, DoesNotFit, Fits, "Length and height fit; hook or hole not sound", "Make hook and hole good", "winder"},
		{"too high", func(in *Input) { in.Height.V = 20.8 * mm }, DoesNotFit, DoesNotGo, "The length fits; too high for the barrel by 0.300 ± 0.047 mm", "Order a strip from 19.5 mm to 20.4 mm high", "ideal length"},
		{"rubs", func(in *Input) { in.Height.V = 20.45 * mm }, DoesNotFit, Fits, "The length fits; too high: only 0.050 ± 0.047 mm of clearance", "Order a strip from 19.5", "winder"},
		{"climbs", func(in *Input) { in.Height.V = 18 * mm }, DoesNotFit, Fits, "The length fits; too low: 2.500 ± 0.047 mm of clearance", "Order a strip from 19.5", "winder"},
		{"may not go in", func(in *Input) { in.Height.V, in.Depth.V = 20*mm, 20.03*mm; in.Limits.EndFloatLow = 0 }, LengthFits, CannotTell, "The length fits; whether the height fits can't be told", "more finely", "winder"},
		{"thick strip", func(in *Input) {
			in.Strip, in.Length = typed("strip", 0.9*mm, 0.001*mm, ""), typed("length", 785.4*mm, 1*mm, "")
		}, DoesNotFit, Fits, "Length and height fit; arbor too thin for this strip", "", "winder"},
		{"long and high", func(in *Input) { in.Length.V, in.Height.V = 2.6, 20.8*mm }, DoesNotFit, DoesNotGo, "The spring is too long for this barrel, too high for the barrel by 0.300 ± 0.047 mm", "ideal length", "winder"},
		{"high, no length", func(in *Input) { in.Length = nil; in.Height.V = 20.8 * mm }, DoesNotFit, DoesNotGo, "The spring can't be fitted as it is: too high for the barrel", "Order a strip from 19.5", "winder"},
		{"no length", func(in *Input) { in.Length = nil }, NotKnownToFit, CannotTell, "Cannot tell yet whether the spring fits: length not known", "Measure the length", "winder"},
		{"near a limit", func(in *Input) { in.Length = typed("length", 1414*mm, 20*mm, "") }, NotKnownToFit, CannotTell, "Cannot tell yet whether the spring fits: the length is too near a limit", "To settle it", "winder"},
		{"too much for the room", func(in *Input) { in.Length.V = 4 }, DoesNotFit, DoesNotGo, "The spring is longer than the whole space in this barrel holds", "ideal length", "Order a strip from"},
	} {
		in := halfFull()
		c.change(&in)
		r := mustFit(t, in)
		if r.Whole.Verdict != c.want || r.Verdict != c.length || !strings.HasPrefix(r.Whole.Says, c.says) {
			t.Errorf("%s: %q (%s), %q, want %q (%s), %q", c.name, r.Whole.Verdict, r.Verdict, r.Whole.Says, c.want, c.length, c.says)
		}
		if !has(r.Next, c.next) || has(r.Next, c.notNext) {
			t.Errorf("%s: next %q", c.name, r.Next)
		}
	}
}

// A spring that was measured in its barrel and is good stays there.
func TestSpringInPlaceStays(t *testing.T) {
	in := halfFull()
	in.Length, in.Hook, in.Inner = nil, "", typed("inner", 33.5*mm, 0.05*mm, "inside")
	if r := mustFit(t, in); has(r.Next, "winder") || has(r.Next, "Before fitting") || !has(r.Next, "Leave the spring where it is") {
		t.Errorf("next %q", r.Next)
	}
}

// 3,000 barrels whose strip and height come from a second instrument, a micrometer within
// 4 µm, and all else from a caliper; clearances from 0.6 mm too little to 1.6 mm. A "fits"
// for the whole spring, and a verdict on the length, are false in under 1 %.
func TestWholeSpringOfSimulatedBarrels(t *testing.T) {
	n := 3000
	if testing.Short() {
		n = 500
	}
	rng := rand.New(rand.NewPCG(31, 7))
	l := DefaultLimits()
	var fits, falseFits, length, falseLength, goes, falseGoes int
	for range n {
		bore := (35 + 40*rng.Float64()) * mm
		truth := Barrel{Bore: bore, Arbor: bore * (0.28 + 0.1*rng.Float64()), Strip: bore / (60 + 80*rng.Float64())}
		f, depth, under := 0.33+0.34*rng.Float64(), (15+20*rng.Float64())*mm, (2.2*rng.Float64()-0.6)*mm
		b := newBench(rng)
		in := b.measured(t, truth, 2*f*truth.IdealLength())
		in.Depth = typed("depth", b.readings(depth, b.inside, 0, 1)[0], 0.04*mm, "caliper, inside")
		error4 := (2*rng.Float64() - 1) * 0.004 * mm
		in.Strip = second(t, "strip", b.readings(truth.Strip, error4, 0.002*mm, 5))
		in.Height = second(t, "height", b.readings(depth-under, error4, 0.01*mm, 3))
		in.Hook = Kept
		r := Result{Fill: newBase(in).value("fill", sizes.fill), Rules: rules(in)}
		r.Verdict, r.Whole = verdict(in, r), whole(in, r)
		rightLength := f >= l.FillLow && f <= l.FillHigh
		right := rightLength && under >= l.EndFloatLow && under <= l.EndFloatHigh && truth.Arbor >= l.ArborPerStripLow*truth.Strip
		count := func(said, true bool, all, wrong *int) {
			if said {
				*all++
				*wrong += int(btof(!true))
			}
		}
		count(r.Whole.Verdict == AllFits, right, &fits, &falseFits)
		count(r.Whole.is("length") == Kept, rightLength, &length, &falseLength)
		count(r.Verdict == Fits, under >= 0, &goes, &falseGoes)
	}
	if fits < n/8 || falseFits*100 >= fits || falseLength*100 >= length || falseGoes*100 >= goes {
		t.Errorf("false: %d of %d fits, %d of %d lengths, %d of %d that go in", falseFits, fits, falseLength, length, falseGoes, goes)
	}
	t.Logf("false: %d of %d fits, %d of %d lengths, %d of %d that go in", falseFits, fits, falseLength, length, falseGoes, goes)
}

// second is read with the micrometer.
func second(t *testing.T, name string, readings []float64) *uncertainty.Quantity {
	t.Helper()
	q, err := uncertainty.FromReadings(name, readings, uncertainty.Instrument{Key: "micrometer, outside", Limit: 0.004 * mm, Step: 0.01 * mm})
	if err != nil {
		t.Fatal(err)
	}
	return &q
}

package spring

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	seeds "evenbeat/devices/simulate/held"
)

// Bore and inner diameter come from the same jaws, whose error nearly cancels: the shares
// of the two, 285 and −195 %, are one line. Oil and air between the coils rule the rest.
func TestBudgetInPlaceCanBeRead(t *testing.T) {
	in := millimetres(45, 15, 0.45, 0)
	in.Bore, in.Inner = typed("bore", 45*mm, 0.04*mm, "inside"), typed("inner", 34*mm, 0.04*mm, "inside")
	in.Arbor, in.Strip = typed("arbor", 15*mm, 0.02*mm, "outside"), typed("strip", 0.45*mm, 0.02*mm, "outside")
	r := mustFit(t, in)
	sum := 0.0
	for _, l := range r.Budget {
		if sum += l.Share; l.Share < 0 || l.Share > 1 {
			t.Errorf("%s: a share of %.3f", l.Input, l.Share)
		}
	}
	within(t, "sum of the shares", sum, 1, 1e-9)
	if r.Budget[0].Input != packing || r.Budget[0].Better == "" || r.Budget[1].Input != "bore with inner" {
		t.Errorf("budget %+v", r.Budget)
	}
	// By hand: ±2 % of 0.48278, rectangular, 95 % of it.
	within(t, "half of the fill's interval", r.Fill.Half95(), 0.95*0.02*0.48278, 5e-4)
	if !has(r.Reasons, "oil and air between them") {
		t.Errorf("what is assumed isn't told: %q", r.Reasons)
	}
}

// (45 − 34)/(2 × 13.75) = 0.4 mm, by hand; length 1706.278 mm as by a measured strip.
func TestStripByItsCoils(t *testing.T) {
	in := millimetres(45, 15, 0.40, 0)
	in.Strip, in.Inner, in.Coils = nil, typed("inner", 34*mm, 0.04*mm, "inside"), typed("coils", 13.75, 0.25, "")
	r := mustFit(t, in)
	within(t, "strip, mm", r.Strip.V/mm, 0.40, 1e-12)
	within(t, "length, mm", r.Length.V/mm, 1706.278, 5e-4)
	if len(r.InPlace) != 1 || r.Turns == nil || !has(r.Reasons, "The strip's thickness isn't measured") {
		t.Errorf("%d ways, turns %v, reasons %q", len(r.InPlace), r.Turns, r.Reasons)
	}
}

// 3,000 barrels measured in place: the strip by a micrometer, or by the number of its
// coils; the fixed errors of both instruments, the count and what lies between the coils
// over the whole of their limits.
func TestCoverageInPlace(t *testing.T) {
	for kind, byCoils := range map[string]bool{"in place, strip by micrometer": false, "in place, strip by its coils": true} {
		for _, f := range []struct {
			name string
			of   func(sizes) float64
		}{{"fill", sizes.fill}, {"length", sizes.stripLength}, {"ideal length", func(s sizes) float64 { return s.IdealLength() }}, {"turns", sizes.turns}} {
			seeds.Count(t, seeds.Cell{What: f.name, Kind: kind, Length: "one session", Unit: "%", Scale: 100, Low: 93, Up: 97, Seeds: 3000,
				Run: func(seed uint64) (quantity.Value, float64, error) {
					in, truth := measuredInPlace(t, seed, byCoils)
					v := newBase(in).value(f.name, f.of)
					if v == nil {
						return quantity.Value{}, 0, fmt.Errorf("no %s", f.name)
					}
					return v.Scale(1 / f.of(truth)), 1, nil
				}})
		}
	}
}

// measuredInPlace is a barrel of that seed, measured with its spring in it, and the truth.
func measuredInPlace(t *testing.T, seed uint64, byCoils bool) (Input, sizes) {
	rng := rand.New(rand.NewPCG(seed, 41))
	bore := (35 + 40*rng.Float64()) * mm
	truth := sizes{Barrel: Barrel{Bore: bore, Arbor: bore * (0.28 + 0.1*rng.Float64()), Strip: bore / (80 + 60*rng.Float64())}, from: FromLength}
	truth.length = 2 * (0.33 + 0.34*rng.Float64()) * truth.IdealLength()
	pack := 1 + 0.02*(2*rng.Float64()-1)
	inner := math.Sqrt(bore*bore - 4*truth.length*truth.Strip*pack/math.Pi)
	b := newBench(rng)
	in := b.measured(t, truth.Barrel, truth.length)
	in.Length = nil
	q, err := uncertainty.FromReadings("inner", b.readings(inner, b.inside, 0.02*mm, 3), uncertainty.Instrument{Key: "caliper, inside", Limit: 0.04 * mm, Step: 0.01 * mm})
	if err != nil {
		t.Fatal(err)
	}
	in.Inner = &q
	in.Strip = second(t, "strip", b.readings(truth.Strip, (2*rng.Float64()-1)*0.004*mm, 0.002*mm, 5))
	if byCoils {
		in.Coils = typed("coils", (bore-inner)/(2*truth.Strip*pack)+(rng.Float64()-0.5)/2, 0.25, "")
		in.Strip = nil
		in = in.withStripByCoils()
	}
	return in, truth
}

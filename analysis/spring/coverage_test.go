package spring

import (
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/analysis/uncertainty"
)

// bench is a simulated caliper of one simulated clockmaker: one fixed error within
// ±0.02 mm for outside jaws and one within ±0.04 mm for inside ones (DIN 862), the
// same for all it measures; 5 µm of repeatability; a display of 0.01 mm.
type bench struct {
	rng             *rand.Rand
	outside, inside float64
}

func newBench(rng *rand.Rand) bench {
	return bench{rng, (2*rng.Float64() - 1) * 0.02 * mm, (2*rng.Float64() - 1) * 0.04 * mm}
}

func (b bench) readings(truth, jaw, vary float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		x := truth + jaw + (0.005*mm)*b.rng.NormFloat64() + vary*b.rng.NormFloat64()
		out[i] = math.Round(x/(0.01*mm)) * 0.01 * mm
	}
	return out
}

// measured is a barrel as the bench sees it: bore three times (5 µm out of round),
// arbor twice, strip five times (2 µm uneven), length by a rule within ±5 mm.
func (b bench) measured(t *testing.T, truth Barrel, length float64) Input {
	t.Helper()
	take := func(name string, r []float64, key string, limit float64) *uncertainty.Quantity {
		q, err := uncertainty.FromReadings(name, r, uncertainty.Instrument{Key: key, Limit: limit, Step: 0.01 * mm})
		if err != nil {
			t.Fatal(err)
		}
		return &q
	}
	return Input{
		Bore:   take("bore", b.readings(truth.Bore, b.inside, 0.005*mm, 3), "caliper, inside", 0.04*mm),
		Arbor:  take("arbor", b.readings(truth.Arbor, b.outside, 0, 2), "caliper, outside", 0.02*mm),
		Strip:  take("strip", b.readings(truth.Strip, b.outside, 0.002*mm, 5), "caliper, outside", 0.02*mm),
		Length: typed("length", length+(2*b.rng.Float64()-1)*5*mm, 5*mm, "rule"),
		Limits: DefaultLimits(),
	}
}

// Coverage: 10,000 barrels measured with that caliper. The stated 95 % intervals
// must hold the truth in 94 to 96 % (binomial: one standard deviation is 0.2 %), and
// a "fits" be false in under 1 %.
func TestCoverageOfSimulatedBarrels(t *testing.T) {
	n := 10_000
	if testing.Short() {
		n = 500
	}
	rng := rand.New(rand.NewPCG(11, 12))
	var ideal, full, turned, fits, falseFits, cannot int
	for range n {
		bore := (35 + 40*rng.Float64()) * mm
		truth := Barrel{Bore: bore, Arbor: bore * (0.28 + 0.1*rng.Float64()), Strip: bore / (80 + 60*rng.Float64())}
		f := 0.33 + 0.34*rng.Float64()
		length := 2 * f * truth.IdealLength()
		in := newBench(rng).measured(t, truth, length)
		b := newBase(in)
		r := Result{Fill: b.value("fill", sizes.fill)}
		count := func(ok bool, c *int) {
			if ok {
				*c++
			}
		}
		count(b.value("ideal", sizes.IdealLength).Covers(truth.IdealLength()), &ideal)
		count(r.Fill.Covers(f), &full)
		count(b.value("turns", sizes.turns).Covers(truth.Turns(length)), &turned)
		switch verdict(in, r) {
		case Fits:
			fits++
			count(f < in.Limits.FillLow || f > in.Limits.FillHigh, &falseFits)
		case CannotTell:
			cannot++
		}
	}
	share := func(c, of int) float64 { return float64(c) / float64(of) }
	slack := 0.01 + 3*math.Sqrt(0.95*0.05/float64(n))*btof(n < 10_000)
	for name, c := range map[string]int{"ideal length": ideal, "fill": full, "turns": turned} {
		if got := share(c, n); math.Abs(got-0.95) > slack {
			t.Errorf("%s: the interval holds the truth in %.2f %%, want 94 to 96", name, 100*got)
		}
	}
	if share(falseFits, fits) >= 0.01 {
		t.Errorf("%d of %d answers \"fits\" are false", falseFits, fits)
	}
	t.Logf("ideal length %.2f %%, fill %.2f %%, turns %.2f %% held; fits %d, of them false %d; cannot tell %.1f %%",
		100*share(ideal, n), 100*share(full, n), 100*share(turned, n), fits, falseFits, 100*share(cannot, n))
}

func btof(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

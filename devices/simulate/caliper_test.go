package simulate

import (
	"math"
	"slices"
	"testing"

	"evenbeat/devices/quantity"
)

func TestCaliperStaysWithinItsLimits(t *testing.T) {
	// DIN 862: 20 µm for short lengths, 20 µm more inside and for depth; DIN 863 up
	// to 50 mm: 4 µm.
	for _, c := range []struct {
		name            string
		make            func(uint64) CaliperConfig
		longest         float64
		outside, inside float64
	}{
		{"caliper", DefaultCaliper, 0.150, 20e-6, 40e-6},
		{"micrometer", DefaultMicrometer, 0.025, 4e-6, 4e-6},
	} {
		worst := 0.0
		for seed := range uint64(500) {
			g, err := NewCaliper(c.make(seed))
			if err != nil {
				t.Fatal(err)
			}
			for _, length := range []float64{0, c.longest / 3, c.longest} {
				out := math.Abs(g.ErrorAt(length, Outside))
				in := max(math.Abs(g.ErrorAt(length, Inside)), math.Abs(g.ErrorAt(length, Depth)))
				if out > c.outside || in > c.inside {
					t.Fatalf("%s seed %d at %g m: outside %g, inside or depth %g", c.name, seed, length, out, in)
				}
				worst = max(worst, in)
			}
		}
		if worst < 0.7*c.inside {
			t.Errorf("%s: 500 instruments stay under %g m of %g: the limit is not used", c.name, worst, c.inside)
		}
	}
}

func TestCaliperReadingsScatterAboutItsError(t *testing.T) {
	g, err := NewCaliper(DefaultCaliper(11))
	if err != nil {
		t.Fatal(err)
	}
	const n = 4000
	var sum, sq float64
	for range n {
		d := g.Shown(0.0633371, Inside) - 0.0633371
		sum += d
		sq += d * d
	}
	mean := sum / n
	// Scatter 4 µm and the step's 10/√12 = 2.9 µm together: 4.9 µm (they are not
	// quite independent, hence 10 %).
	sd := math.Sqrt(sq/n - mean*mean)
	if math.Abs(sd/4.94e-6-1) > 0.1 {
		t.Errorf("spread %g m, want about 4.9e-6", sd)
	}
	// A mean of 4000 that are rounded to 10 µm with this scatter: 5·4.9/√4000 µm, and
	// 0.3 µm for what rounding leaves.
	if want := g.ErrorAt(0.0633371, Inside); math.Abs(mean-want) > 0.7e-6 {
		t.Errorf("mean error %g m, want %g", mean, want)
	}
}

func TestCaliperLines(t *testing.T) {
	exact := func(cfg CaliperConfig) *Caliper {
		cfg.Limit, cfg.LimitInside, cfg.Repeat = 0, 0, 0
		g, err := NewCaliper(cfg)
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	inch := DefaultCaliper(1)
	inch.Unit, inch.Step = quantity.Inch, 0.0005*0.0254
	for _, c := range []struct {
		g      *Caliper
		length float64
		want   string
	}{
		{exact(DefaultCaliper(1)), 0.0635, "     63.50mm\r\n"},
		{exact(DefaultCaliper(1)), 0.0634951, "     63.50mm\r\n"},
		{exact(DefaultCaliper(1)), 0, "      0.00mm\r\n"},
		{exact(DefaultMicrometer(1)), 0.0004006, "     0.401mm\r\n"},
		{exact(inch), 0.0635, "    2.5000in\r\n"},
		{exact(inch), 0.3e-3, "    0.0120in\r\n"}, // 0.01181 in to half a thou
	} {
		if got := string(c.g.AppendLine(nil, c.length, Outside)); got != c.want {
			t.Errorf("%g m: got %q, want %q", c.length, got, c.want)
		}
	}
}

func TestCaliperIsTheSameForTheSameSeed(t *testing.T) {
	lines := func(seed uint64) string {
		g, err := NewCaliper(DefaultCaliper(seed))
		if err != nil {
			t.Fatal(err)
		}
		var all []byte
		for range 50 {
			all = g.AppendLine(all, 0.04503, Inside)
		}
		return string(all)
	}
	first := lines(4)
	if again := lines(4); again != first {
		t.Error("seed 4 twice gives different lines")
	}
	if lines(5) == first {
		t.Error("seeds 4 and 5 give the same lines")
	}
}

func TestCaliperConfigErrors(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*CaliperConfig)
		want   string
	}{
		{"unit", func(c *CaliperConfig) { c.Unit = quantity.Metre }, `simulated caliper: unit "m": it sends mm or in`},
		{"step", func(c *CaliperConfig) { c.Step = math.NaN() }, "simulated caliper: step (m) is NaN: must be from 1e-08 to 0.01"},
		{"limits", func(c *CaliperConfig) { c.LimitInside = 1e-6 }, "simulated caliper: inside limit (m) is 1e-06: must be from 2e-05 to 0.01"},
	} {
		cfg := DefaultCaliper(1)
		c.change(&cfg)
		if _, err := NewCaliper(cfg); err == nil || err.Error() != c.want {
			t.Errorf("%s: got %v, want %s", c.name, err, c.want)
		}
	}
}

func TestCaliperLinesComeAsPressed(t *testing.T) {
	cfg := DefaultCaliper(1)
	cfg.Limit, cfg.LimitInside, cfg.Repeat = 0, 0, 0
	g, err := NewCaliper(cfg)
	if err != nil {
		t.Fatal(err)
	}
	presses := slices.Values([]Press{{Dimension: "zero"}, {Dimension: "bore", True: 0.045, Jaws: Inside}})
	var got []arrived
	for at, line := range g.Lines(10, 2.5, presses) {
		got = append(got, arrived{at, string(line)})
	}
	if want := []arrived{{10e9, "      0.00mm\r\n"}, {12.5e9, "     45.00mm\r\n"}}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

package timebase

import (
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// A clock left to itself runs at any rate within its crystal's limit of error, be that
// the usual one or the user's own.
func TestCoverageOfAFreeHost(t *testing.T) {
	for _, c := range []struct {
		kind string
		h    Host
	}{
		{"free, 50 ppm", Host{Known: true}},
		{"free, 2 ppm by the settings", Host{Known: true, LimitPPM: 2}},
	} {
		t.Run(c.kind, func(t *testing.T) {
			t.Parallel()
			held.Count(t, held.Cell{What: "host's clock", Kind: c.kind, Length: "10 min", Unit: "ppm",
				Run: func(seed uint64) (quantity.Value, float64, error) {
					rng := rand.New(rand.NewPCG(seed, 11))
					return c.h.RatePPM(600), c.h.CrystalLimitPPM() * (2*rng.Float64() - 1), nil
				}})
		})
	}
}

// disciplined is a host whose time service looks at its clock every poll seconds, with
// an error of noise seconds, and has the kernel slew it. The crystal is off by anything
// within its limit, wanders, and goes with the temperature of the room.
//
// The loop is the kernel's: with a time constant of 2^(poll's exponent − 2) s, so much
// of what is left of the offset is put right each second, and the frequency is
// corrected by offset × interval / 16 time constants² (kernel/time/ntp.c, from memory;
// RFC 5905, section 11.3).
type disciplined struct {
	poll  int64
	noise float64
	seed  uint64
}

// rates returns the mean rates in ppm of the host's clock and of its bare crystal over so
// many seconds.
func (d disciplined) rates(seconds int64) (clock, bare float64) {
	rng := rand.New(rand.NewPCG(d.seed, 12))
	tau := float64(d.poll) / 4
	crystal := 50e-6 * (2*rng.Float64() - 1)
	freq, off, x, raw, begun, rawBegun := -crystal, 0.0, 0.0, 0.0, 0.0, 0.0
	from := 10*d.poll + rng.Int64N(d.poll)
	warm := 2 * math.Pi * rng.Float64()
	for s := range from + seconds {
		if s == from {
			begun, rawBegun = x, raw
		}
		if s%d.poll == 0 {
			off = -(x + d.noise*rng.NormFloat64())
			freq += off * min(float64(d.poll), 2*tau) / (16 * tau * tau)
		}
		slew := off / tau
		off -= slew
		crystal += 3e-11 * rng.NormFloat64()
		room := 0.5e-6 * math.Sin(warm+2*math.Pi*float64(s)/1800)
		x += crystal + room + freq + slew
		raw += crystal + room
	}
	return (x - begun) / float64(seconds) * 1e6, (raw - rawBegun) / float64(seconds) * 1e6
}

// A time service of whose clock the error is 1 ms: noise of 0.8 ms in what it sees, which
// the loop makes 1 ms. Where it looks less often than the run is long, the interval is
// wider than needed.
func TestCoverageOfADisciplinedHost(t *testing.T) {
	for _, c := range []struct {
		kind    string
		d       disciplined
		seconds int64
		length  string
		seeds   int
		low, up float64
	}{
		{"looked at every 64 s", disciplined{poll: 64, noise: 0.8e-3}, 120, "2 min", 0, 92, 98},
		{"looked at every 64 s", disciplined{poll: 64, noise: 0.8e-3}, 600, "10 min", 50, 92, 98},
		{"looked at every 64 s", disciplined{poll: 64, noise: 0.8e-3}, 3600, "1 h", 0, 92, 98},
		{"looked at every 1024 s", disciplined{poll: 1024, noise: 0.8e-3}, 600, "10 min", 50, 92, 100},
		{"looked at every 1024 s", disciplined{poll: 1024, noise: 0.8e-3}, 7200, "2 h", 50, 92, 98},
	} {
		t.Run(c.kind+", "+c.length, func(t *testing.T) {
			t.Parallel()
			held.Count(t, held.Cell{What: "host's clock", Kind: c.kind, Length: c.length, Unit: "ppm", Low: c.low, Up: c.up, Seeds: c.seeds,
				Run: func(seed uint64) (quantity.Value, float64, error) {
					c.d.seed = seed
					clock, _ := c.d.rates(c.seconds)
					return Host{Known: true, Synced: true}.RatePPM(float64(c.seconds)), clock, nil
				}})
		})
	}
}

// Two limits: equal ones have a triangle of half-width 2a for the density of their sum,
// 95 % of which lies within 2a(1−√0.05). The others are held against the convolution
// that analysis/uncertainty works out for any mixture.
func TestTwoLimits(t *testing.T) {
	if got := by(rectangle(1), rectangle(1)).Half95(); math.Abs(got-2*(1-math.Sqrt(0.05))) > 1e-9 {
		t.Errorf("two equal limits: %g, want %g", got, 2*(1-math.Sqrt(0.05)))
	}
	for _, b := range []float64{1e-3, 0.04, 0.05, 0.06, 0.3, 0.9, 3} {
		got := by(rectangle(1), rectangle(b))
		want := uncertainty.Coverage([]uncertainty.Source{{U: 1 / math.Sqrt(3), Shape: uncertainty.Rectangular}, {U: b / math.Sqrt(3), Shape: uncertainty.Rectangular}})
		if math.Abs(got.K-want) > 2e-3 {
			t.Errorf("limits of 1 and %g: K %g, want %g", b, got.K, want)
		}
	}
}

package stability

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// oadev is the definition of NIST SP 1065 written out, term by term.
func oadev(x []float64, m int, tau0 float64) (float64, int64) {
	sum, n := 0.0, int64(0)
	for i := 0; i+2*m < len(x); i++ {
		d := x[i+2*m] - 2*x[i+m] + x[i]
		if !math.IsNaN(d) {
			sum += d * d
			n++
		}
	}
	tau := float64(m) * tau0
	return math.Sqrt(sum / (2 * tau * tau * float64(n))), n
}

// phases returns n phases of a clock with white phase noise and a random walk of
// rate, every gap-th missing (0 = none).
func phases(seed uint64, n, gap int) []float64 {
	rng := rand.New(rand.NewPCG(seed, 1))
	x := make([]float64, n)
	phase, rate := 0.0, 3e-5
	for i := range x {
		rate += 1e-9 * rng.NormFloat64()
		phase += rate
		x[i] = phase + 80e-6*rng.NormFloat64()
		if gap > 0 && i%gap == gap-1 {
			x[i] = math.NaN()
		}
	}
	return x
}

func TestStreamIsDefinition(t *testing.T) {
	for _, c := range []struct{ n, gap int }{{3, 0}, {4, 0}, {65, 0}, {576, 0}, {577, 0}, {5000, 0}, {5000, 37}, {1200, 2}} {
		x := phases(7, c.n, c.gap)
		s, err := NewStream(0.5)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range x {
			s.Add(v)
			if i%301 == 0 {
				s.Rows() // looking must change nothing
			}
		}
		for k, row := range s.Rows() {
			m := int(math.Round(row.TauS / 0.5))
			if m > thinAbove {
				continue
			}
			want, n := oadev(x, m, 0.5)
			if row.N != n || math.Abs(*row.OADev-want) > 1e-9*want {
				t.Errorf("%d points, gap %d, row %d, m %d: got %g of %d, want %g of %d", c.n, c.gap, k, m, *row.OADev, row.N, want, n)
			}
		}
	}
}

// Whatever is missed, and however far a phase jumps meanwhile, the sums are those of the
// terms without a gap, to the digits that the phases have.
func TestStreamGaps(t *testing.T) {
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 3))
		n := []int{100, 700, 3000}[rng.IntN(3)]
		missed := []float64{0.002, 0.02, 0.3, 0.95}[rng.IntN(4)]
		longest := []int{1, 5, 400}[rng.IntN(3)]
		slope := []float64{0, 1e-3, 1}[rng.IntN(3)]
		noise := []float64{1e-4, 1e-6, 0}[rng.IntN(3)]
		jump := []float64{0, 1, 86400, 1e200}[rng.IntN(4)]
		x := make([]float64, n)
		level, gap := []float64{0, -3, 1e6}[rng.IntN(3)], 0
		for i := range x {
			if gap == 0 && rng.Float64() < missed {
				gap = 1 + rng.IntN(longest)
				if rng.IntN(3) == 0 {
					level += jump
				}
			}
			x[i] = level + slope*float64(i) + noise*rng.NormFloat64()
			if gap > 0 {
				gap--
				x[i] = math.NaN()
			}
		}
		s, _ := NewStream(0.5)
		for i := 0; i < n; {
			k := min(n-i, 1+rng.IntN(90))
			s.AddAll(x[i:i+k], 0)
			i += k
		}
		rows := s.Rows()
		for k := range octaves {
			m := 1 << k
			want, terms := oadev(x, m, 0.5)
			if terms < 2 || math.IsInf(want, 0) || math.IsNaN(want) {
				continue
			}
			if len(rows) == 0 || rows[0].TauS != 0.5*float64(m) {
				t.Errorf("seed %d, m %d: no row, want %g of %d terms", seed, m, want, terms)
				continue
			}
			if got := *rows[0].OADev; rows[0].N != terms || math.Abs(got-want) > 1e-9*want {
				t.Errorf("seed %d, m %d: got %g of %d, want %g of %d", seed, m, got, rows[0].N, want, terms)
			}
			rows = rows[1:]
		}
	}
}

// TestStreamThinning: where the rate wanders, thinning moves the figure by less
// than a quarter of its 68 % interval; where the phase is white it costs terms,
// and the figure of all terms stays within the 95 % interval.
func TestStreamThinning(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 2))
	const n = 200_000
	wander, mixed := make([]float64, n), phases(11, n, 0)
	for i := 1; i < n; i++ {
		wander[i] = wander[i-1] + 1e-6*rng.NormFloat64()
	}
	for _, c := range []struct {
		name string
		x    []float64
	}{{"wandering", wander}, {"white phase, then random walk", mixed}} {
		s, _ := NewStream(1)
		for _, v := range c.x {
			s.Add(v)
		}
		rows := s.Rows()
		if got := rows[len(rows)-1].TauS; got != 65536 {
			t.Errorf("longest tau %g, want 65536", got)
		}
		for _, row := range rows {
			m := int(row.TauS)
			want, _ := oadev(c.x, m, 1)
			off := math.Abs(*row.OADev - want)
			if c.name == "wandering" && off > (*row.High-*row.Low)/8 {
				t.Errorf("%s: tau %d: thinned %g (%g to %g), of all terms %g", c.name, m, *row.OADev, *row.Low, *row.High, want)
			}
			low, high, _ := Interval(*row.OADev, *row.Edf, 0.95)
			if want < low || want > high {
				t.Errorf("%s: tau %d: %g of all terms is outside %g to %g", c.name, m, want, low, high)
			}
		}
	}
}

func TestStreamNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	white, _ := NewStream(1)
	walk, _ := NewStream(1)
	freq, _ := NewStream(1)
	var y, x, xf float64
	for range 20_000 {
		white.Add(rng.NormFloat64())
		xf += 1 + rng.NormFloat64()
		freq.Add(xf)
		y += rng.NormFloat64()
		x += y
		walk.Add(x)
	}
	for _, c := range []struct {
		s    *Stream
		want Noise
	}{{white, WhitePhase}, {freq, WhiteFrequency}, {walk, RandomWalk}} {
		for _, row := range c.s.Rows()[:7] {
			if row.Noise != c.want {
				t.Errorf("tau %g: got %q, want %q", row.TauS, row.Noise, c.want)
			}
			if row.Low == nil || *row.Low >= *row.OADev || *row.High <= *row.OADev {
				t.Errorf("tau %g: no interval about the figure", row.TauS)
			}
		}
	}
}

func TestStreamRefusesInterval(t *testing.T) {
	for _, v := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := NewStream(v); err == nil {
			t.Errorf("interval %g was taken", v)
		}
	}
}

func TestStreamInfinity(t *testing.T) {
	s, _ := NewStream(1)
	for i := range 100 {
		v := float64(i * i)
		if i%10 == 9 {
			v = math.Inf(1)
		}
		s.Add(v)
	}
	for _, r := range s.Rows() {
		if math.IsNaN(*r.OADev) || math.IsInf(*r.OADev, 0) {
			t.Errorf("tau %g: %g", r.TauS, *r.OADev)
		}
	}
}

func BenchmarkStream(b *testing.B) {
	for _, c := range []struct {
		name string
		gap  int
	}{{"whole", 0}, {"two in a thousand missed", 500}} {
		x := phases(3, 1<<18, c.gap)
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s, _ := NewStream(1)
				for run := range slices.Chunk(x, 1024) {
					s.AddAll(run, 0)
				}
				if len(s.Rows()) != 17 {
					b.Fatal("rows")
				}
			}
			b.ReportMetric(float64(len(x))*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
		})
	}
}

package stability

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// familyOf passes a series through a Family in pieces of any size.
func familyOf(t testing.TB, x []float64, interval float64, taus string, piece int) Result {
	t.Helper()
	choice, err := ParseTaus(taus)
	if err != nil {
		t.Fatal(err)
	}
	f, err := NewFamily(choice)
	if err != nil {
		t.Fatal(err)
	}
	for len(x) > 0 {
		n := min(piece, len(x))
		f.Add(x[:n])
		x = x[n:]
	}
	r, err := f.Result(interval, 1, 0)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// noisy returns n phases of a kind of noise, from its exponent in the phase's
// spectrum, f^−order: 0 is white phase, 4 random walk of frequency. White noise is
// summed order/2 times, halves by the binomial series (N. J. Kasdin, 1995).
func noisy(rng *rand.Rand, n, order int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	for ; order >= 2; order -= 2 {
		for i := 1; i < n; i++ {
			x[i] += x[i-1]
		}
	}
	if order == 1 {
		h := make([]float64, n)
		h[0] = 1
		for k := 1; k < n; k++ {
			h[k] = h[k-1] * (float64(k) - 0.5) / float64(k)
		}
		half := make([]float64, n)
		for i := range x {
			for k := 0; k <= i; k++ {
				half[i] += h[k] * x[i-k]
			}
		}
		x = half
	}
	return x
}

// same reports whether two figures agree to the digits that sums of many squares
// have, or are both left out.
func same(a, b *float64, digits float64) bool {
	if a == nil || b == nil {
		return a == b
	}
	return math.Abs(*a-*b) <= digits*math.Abs(*b)
}

// TestFamilyIsTable: of every kind of noise, with gaps and without, for any averaging
// factors and pieces: the same terms and figures as the table that holds the series
// in memory, where no term is thinned.
func TestFamilyIsTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(4, 900).Draw(t, "points")
		x := noisy(rng, n, rapid.IntRange(0, 4).Draw(t, "order"))
		missed := rapid.SampledFrom([]float64{0, 0, 0.01, 0.3}).Draw(t, "missed")
		for i := 1; i+1 < n; i++ {
			x[i] = 1e-4*x[i] + 3e-5*float64(i)
			if rng.Float64() < missed {
				x[i] = math.NaN()
			}
		}
		x[0], x[n-1] = 1e-4*x[0], 1e-4*x[n-1]+3e-5*float64(n-1) // gaps at the ends are cut off by the table
		list := rapid.SliceOfNDistinct(rapid.IntRange(1, 460), 1, 12, rapid.ID).Draw(t, "factors")
		taus := strings.Trim(strings.ReplaceAll(fmt.Sprint(list), " ", ","), "[]")
		choice, _ := ParseTaus(taus)
		want, refused := Table(x, Phase, 0.5, choice)
		f, _ := NewFamily(choice)
		for rest := x; len(rest) > 0; {
			k := min(len(rest), rapid.IntRange(1, 700).Draw(t, "piece"))
			f.Add(rest[:k])
			rest = rest[k:]
		}
		got, err := f.Result(0.5, 1, 0)
		if refused != nil || err != nil {
			if fmt.Sprint(refused) != fmt.Sprint(err) {
				t.Fatalf("the table: %v; the family: %v", refused, err)
			}
			return // all averaging times are too long
		}
		held, err := newSeries(x, Phase, 0.5)
		if err != nil {
			t.Fatal(err)
		}
		byTau := map[float64]Row{}
		for _, r := range got.Rows {
			byTau[r.TauS] = r
		}
		for _, w := range want.Rows {
			if w.OADev == nil {
				continue // the table keeps a row for TOTDEV alone
			}
			g, m := byTau[w.TauS], int(w.TauS/0.5)
			exact := map[string][2]*float64{"adev": {g.ADev, w.ADev}, "hdev": {g.HDev, w.HDev}}
			if m < 2*thinAbove {
				for name, p := range map[string][2]*float64{"oadev": {g.OADev, w.OADev}, "mdev": {g.MDev, w.MDev},
					"tdev": {g.TDev, w.TDev}, "ohdev": {g.OHDev, w.OHDev}} {
					exact[name] = p
				}
				if g.N != w.N {
					t.Errorf("m %d: %d terms, want %d", m, g.N, w.N)
				}
			}
			// Where m is too long to tell its own noise, table and family may take it from
			// different shorter ones.
			if _, ok := held.lags(m).noise(); ok && g.Noise != w.Noise {
				t.Errorf("m %d: noise %q, want %q", m, g.Noise, w.Noise)
			} else if ok && m < 2*thinAbove {
				exact["low"], exact["high"] = [2]*float64{g.Low, w.Low}, [2]*float64{g.High, w.High}
			}
			for name, p := range exact {
				if !same(p[0], p[1], 1e-9) {
					t.Errorf("m %d: %s: got %v, want %v", m, name, text(p[0]), text(p[1]))
				}
			}
		}
	})
}

func text(v *float64) string {
	if v == nil {
		return "none"
	}
	return fmt.Sprintf("%.12g", *v)
}

// defined is NIST SP 1065 written out, over segments, with every stride-th of the
// overlapping terms: OADEV, OHDEV and MDEV at factor m of phases tau0 = 1 apart.
func defined(segments [][]float64, m, stride int) (oadev, ohdev, mdev float64, terms int64) {
	var a, h, mod, na, nh, nm float64
	for _, x := range segments {
		for i := 0; i < len(x); i += stride {
			if i+2*m < len(x) {
				if d := x[i+2*m] - 2*x[i+m] + x[i]; d == d {
					a, na = a+d*d, na+1
				}
			}
			if i+3*m < len(x) {
				if d := x[i+3*m] - 3*x[i+2*m] + 3*x[i+m] - x[i]; d == d {
					h, nh = h+d*d, nh+1
				}
			}
			if i+3*m <= len(x) {
				inner := 0.0
				for k := i; k < i+m; k++ {
					inner += x[k+2*m] - 2*x[k+m] + x[k]
				}
				if inner == inner {
					mod, nm = mod+inner*inner, nm+1
				}
			}
		}
	}
	f := float64(m)
	return math.Sqrt(a/(2*na)) / f, math.Sqrt(h/(6*nh)) / f, math.Sqrt(mod/(2*nm)) / (f * f), int64(na)
}

// TestFamilySegments: thinned or not, the figures are those of the definition over
// each segment by itself, whatever offset lies between the segments; and what
// alternates from point to point is taken out of every one of them.
func TestFamilySegments(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		list := rapid.SliceOfNDistinct(rapid.IntRange(1, 700), 1, 8, rapid.ID).Draw(t, "factors")
		choice, _ := ParseTaus(strings.Trim(strings.ReplaceAll(fmt.Sprint(list), " ", ","), "[]"))
		f, err := NewFamily(choice)
		if err != nil {
			t.Fatal(err)
		}
		apart := rapid.SampledFrom([]float64{0, 0.7, -30}).Draw(t, "alternating")
		var segments [][]float64
		for range rapid.IntRange(1, 4).Draw(t, "segments") {
			first := rapid.Int64Range(-5, 5).Draw(t, "first")
			x := noisy(rng, rapid.IntRange(1, 3000).Draw(t, "points"), 2)
			heard := make([]float64, len(x))
			offset := 1e6 * rng.NormFloat64()
			for i := range x {
				if rng.IntN(500) == 0 {
					x[i] = math.NaN()
				}
				heard[i] = x[i] + offset + apart*sign(first+int64(i))
			}
			f.Segment(first)
			f.Add(heard)
			segments = append(segments, x)
		}
		got, err := f.Result(1, 1, apart)
		if err != nil {
			return // too short
		}
		for _, r := range got.Rows {
			m := int(r.TauS)
			a, h, mod, n := defined(segments, m, max(1, m/32))
			if r.N != n {
				t.Errorf("m %d: %d terms, want %d", m, r.N, n)
			}
			// The offset of the segments costs some of the sixteen digits.
			for _, p := range []struct {
				name string
				got  *float64
				want float64
			}{{"oadev", r.OADev, a}, {"ohdev", r.OHDev, h}, {"mdev", r.MDev, mod}} {
				if p.got != nil && math.Abs(*p.got-p.want) > 1e-7*p.want+1e-12 {
					t.Errorf("m %d: %s: got %.12g, want %.12g", m, p.name, *p.got, p.want)
				}
			}
		}
	})
}

// TestFamilyThinning: what leaving terms out costs, as Family's comment states it, over
// forty series of each kind of noise: the mean distance from the figure of all terms, in
// shares of half the 68 % interval. Where the phase is white, that figure lies as often
// within the 95 % interval about the thinned one as that says.
func TestFamilyThinning(t *testing.T) {
	const n, seeds = 2048, 40
	choice, _ := ParseTaus("64,100,333,500")
	for order, most := range []float64{0.6, 0.4, 0.04, 0.04, 0.04} {
		// The interval is OADEV's. That of OHDEV is wider where the phase is white: the
		// squared correlations of its terms, 15/20, 6/20 and 1/20, sum up to more than
		// those of OADEV's, 4/6 and 1/6.
		wider := 1.0
		if order == 0 {
			wider = math.Sqrt((1 + 2*(15*15+6*6+1)/400.0) / (1 + 2*(4*4+1)/36.0))
		}
		var oadev, mdev, ohdev, rows, covered float64
		for seed := range uint64(seeds) {
			x := noisy(rand.New(rand.NewPCG(seed, uint64(order))), n, order)
			want, err := Table(x, Phase, 1, choice)
			if err != nil {
				t.Fatal(err)
			}
			for i, g := range familyOf(t, x, 1, choice.String(), n).Rows {
				w, half := want.Rows[i], (*g.High-*g.Low)/2 / *g.OADev
				oadev += math.Abs(*g.OADev/(*w.OADev)-1) / half
				mdev += math.Abs(*g.MDev/(*w.MDev)-1) / half
				ohdev += math.Abs(*g.OHDev/(*w.OHDev)-1) / (half * wider)
				rows++
				if low, high, ok := Interval(*g.OADev, *g.Edf, 0.95); ok && low <= *w.OADev && *w.OADev <= high {
					covered++
				}
			}
		}
		if oadev > most*rows || ohdev > most*rows || mdev > 0.1*rows {
			t.Errorf("order %d: OADEV off by %.3f of the half-width, OHDEV %.3f, want %g; MDEV %.3f, want 0.1", order, oadev/rows, ohdev/rows, most, mdev/rows)
		}
		// 152 of 160 are expected; 143 and less would be one case in a thousand.
		if covered <= 143 {
			t.Errorf("order %d: %v of %v intervals hold the figure of all terms, want 95 %%", order, covered, rows)
		}
	}
}

// TestFamilyHandbook: the thousand of NIST SP 1065, p. 108, as phases, to all digits
// printed. At tau 100 the overlapping terms are thinned to every third: those figures
// are not the printed ones, and none is held to them.
func TestFamilyHandbook(t *testing.T) {
	x := make([]float64, 1001)
	for i, y := range thousand() {
		x[i+1] = x[i] + y
	}
	rows := familyOf(t, x, 1, "1,10,100", 77).Rows
	for i, want := range []map[string]string{
		{"adev": "2.922319e-01", "oadev": "2.922319e-01", "mdev": "2.922319e-01", "tdev": "1.687202e-01", "hdev": "2.943883e-01", "ohdev": "2.943883e-01"},
		{"adev": "9.965736e-02", "oadev": "9.159953e-02", "mdev": "6.172376e-02", "tdev": "3.563623e-01", "hdev": "1.052754e-01", "ohdev": "9.581083e-02"},
		{"adev": "3.897804e-02", "hdev": "3.910861e-02"}, // printed …860: see TestHandbook
	} {
		for name, text := range want {
			if got := figures(rows[i])[name]; got == nil || likePrinted(*got, text) != text {
				t.Errorf("tau %g: %s: got %v, want %s", rows[i].TauS, name, got, text)
			}
		}
		if rows[i].TotDev != nil {
			t.Errorf("tau %g: TOTDEV of a series that isn't there", rows[i].TauS)
		}
	}
	nines := make([]float64, 10)
	for i, y := range nine {
		nines[i+1] = nines[i] + y
	}
	rows = familyOf(t, nines, 1, "octave", 3).Rows
	for name, text := range map[string]string{"adev": "115.8082", "oadev": "85.95287", "mdev": "74.78849", "tdev": "86.35831", "hdev": "116.7980", "ohdev": "85.61487"} {
		if got := likePrinted(*figures(rows[1])[name], text); got != text {
			t.Errorf("nine: %s at tau 2: got %s, want %s", name, got, text)
		}
	}
}

// TestFamilyKeepsItsDigits: the last of a year of beats counts as much as the first:
// the sum of all phases, 300 s off an even clock by then, has grown to 4e10 s, of
// which a float alone holds microseconds, and the scatter is of a microsecond.
func TestFamilyKeepsItsDigits(t *testing.T) {
	choice, _ := ParseTaus("10,1000")
	f, _ := NewFamily(choice)
	f.sum, f.rest = 4e10, 3e-6
	f.zero, f.based = 0, true
	rng := rand.New(rand.NewPCG(3, 3))
	x := make([]float64, 20_000)
	for i := range x {
		x[i] = 300 + 1e-6*(rng.NormFloat64())
	}
	f.Add(x)
	got, err := f.Result(0.125, 1, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range got.Rows {
		m := int(r.TauS / 0.125)
		_, _, want, _ := defined([][]float64{x}, m, max(1, m/32))
		// A phase of 300 s has a last digit of 6e-14 s.
		if want /= 0.125; math.Abs(*r.MDev/want-1) > 1e-6 {
			t.Errorf("m %d: MDEV %.9g, want %.9g", m, *r.MDev, want)
		}
	}
}

func TestFamilyRefuses(t *testing.T) {
	if _, err := NewFamily(All()); err == nil || !strings.Contains(err.Error(), "write octave, decade, or a list") {
		t.Errorf("all taus: %v", err)
	}
	f, _ := NewFamily(Octave())
	f.Add([]float64{1, 2})
	f.Segment(0)
	f.Add([]float64{1, 2})
	if _, err := f.Result(1, 1, 0); err == nil || !strings.Contains(err.Error(), "points 2") {
		t.Errorf("two points: %v", err)
	}
	if _, err := f.Result(0, 1, 0); err == nil {
		t.Error("an interval of nothing was taken")
	}
	if _, err := NewFamily(Taus{spacing: listed, list: make([]int64, mostFactors+1)}); err == nil || !strings.Contains(err.Error(), "(501 of them): at most 500") {
		t.Errorf("501 averaging times: %v", err)
	}
	long, _ := ParseTaus("8,5000")
	f, _ = NewFamily(long)
	f.Add(make([]float64, 15))
	if _, err := f.Result(1, 1, 0); err == nil || err.Error() != "taus 8,5000: too long for 15 points: 7 is the longest, half the record" {
		t.Errorf("averaging times of half the record and more: %v", err)
	}
}

// TestFamilyMemory: adding allocates nothing, so that a year holds what a minute
// does, and that is little.
func TestFamilyMemory(t *testing.T) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f, err := NewFamily(Octave())
	if err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	if held := after.TotalAlloc - before.TotalAlloc; held > 1<<20 {
		t.Errorf("%d bytes for all octaves, want no more than 1 MiB", held)
	}
	x := phases(3, 1024, 500)
	if n := testing.AllocsPerRun(1000, func() { f.Add(x) }); n != 0 {
		t.Errorf("%g allocations a thousand points, want none", n)
	}
	runtime.KeepAlive(f)
}

func BenchmarkFamily(b *testing.B) {
	x := phases(3, 1<<18, 500)
	for _, taus := range []string{"octave", "decade", "7,480"} {
		b.Run(taus, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if len(familyOf(b, x, 1, taus, 1024).Rows) < 2 {
					b.Fatal("rows")
				}
			}
			b.ReportMetric(float64(len(x))*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
		})
	}
}

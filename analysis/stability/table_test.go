package stability

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"evenbeat/devices/quantity"
)

// nine are the nine frequencies of NIST SP 1065, p. 107.
var nine = []float64{892, 809, 823, 798, 671, 644, 883, 903, 677}

// thousand makes the 1000 frequencies of NIST SP 1065, p. 108, by its rule.
func thousand() []float64 {
	y := make([]float64, 1000)
	n := int64(1234567890)
	for i := range y {
		y[i] = float64(n) / 2147483647
		n = n * 16807 % 2147483647
	}
	return y
}

func TestThousandBeginsAsPrinted(t *testing.T) {
	y := thousand()
	for i, want := range []float64{1234567890, 395529916, 1209410747, 633705974} {
		if got := math.Round(y[i] * 2147483647); got != want {
			t.Errorf("number %d: got %.0f, want %.0f", i, got, want)
		}
	}
}

// printed is one printed figure, as text, so that it is held to its own digits.
type printed struct {
	name, tau string
	want      string
}

func figures(r Row) map[string]*float64 {
	return map[string]*float64{"adev": r.ADev, "oadev": r.OADev, "mdev": r.MDev, "tdev": r.TDev,
		"hdev": r.HDev, "ohdev": r.OHDev, "totdev": r.TotDev}
}

// TestHandbook holds both suites of NIST SP 1065 to all printed digits, from
// frequency and from phase. One figure was printed a last digit off its closed
// form, in two ways: HDEV of the nine at tau 1 is 70.80607 (also printed
// 70.80608); HDEV of the thousand at tau 100 is 3.910861e-02 (printed …860).
// TOTDEV is the handbook's definition, not that of the older paper, whose
// 98.31100 at tau 2 carries a bias correction.
func TestHandbook(t *testing.T) {
	table := func(head string, cols []string, rows map[string]string) (ps []printed) {
		for name, line := range rows {
			for i, want := range strings.Fields(line) {
				ps = append(ps, printed{name, cols[i], want})
			}
		}
		return ps
	}
	suites := []struct {
		name string
		y    []float64
		taus string
		want []printed
	}{
		{"nine", nine, "1,2", table("", []string{"1", "2"}, map[string]string{
			"adev": "91.22945 115.8082", "oadev": "91.22945 85.95287", "mdev": "91.22945 74.78849",
			"tdev": "52.67135 86.35831", "hdev": "70.80607 116.7980", "ohdev": "70.80607 85.61487",
			"totdev": "91.22945 93.90379"})},
		{"thousand", thousand(), "1,10,100", table("", []string{"1", "10", "100"}, map[string]string{
			"adev":   "2.922319e-01 9.965736e-02 3.897804e-02",
			"oadev":  "2.922319e-01 9.159953e-02 3.241343e-02",
			"mdev":   "2.922319e-01 6.172376e-02 2.170921e-02",
			"tdev":   "1.687202e-01 3.563623e-01 1.253382e+00",
			"hdev":   "2.943883e-01 1.052754e-01 3.910861e-02",
			"ohdev":  "2.943883e-01 9.581083e-02 3.237638e-02",
			"totdev": "2.922319e-01 9.134743e-02 3.406530e-02"})},
	}
	for _, s := range suites {
		x := make([]float64, len(s.y)+1)
		for i, y := range s.y {
			x[i+1] = x[i] + y
		}
		for kind, data := range map[Kind][]float64{Frequency: s.y, Phase: x} {
			taus, err := ParseTaus(s.taus)
			if err != nil {
				t.Fatal(err)
			}
			r, err := Table(data, kind, 1, taus)
			if err != nil {
				t.Fatal(err)
			}
			byTau := map[string]Row{}
			for _, row := range r.Rows {
				byTau[fmt.Sprint(row.TauS)] = row
			}
			for _, p := range s.want {
				got := figures(byTau[p.tau])[p.name]
				if got == nil {
					t.Errorf("%s, kind %d: no %s at tau %s", s.name, kind, p.name, p.tau)
					continue
				}
				if text := likePrinted(*got, p.want); text != p.want {
					t.Errorf("%s, kind %d: %s at tau %s: got %s, want %s", s.name, kind, p.name, p.tau, text, p.want)
				}
			}
		}
	}
}

// likePrinted writes v in the form and to the digits of want.
func likePrinted(v float64, want string) string {
	if strings.Contains(want, "e") {
		return fmt.Sprintf("%.6e", v)
	}
	_, frac, _ := strings.Cut(want, ".")
	return fmt.Sprintf("%.*f", len(frac), v)
}

// TestIntervalHandbook: NIST SP 1065's worked example of confidence limits, for
// the thousand at tau 10. The edf is its table 5's for white frequency noise. The
// printed limits come from an approximate chi-square, so 0.1 % is all they bear;
// the exact ones are held to their digits.
func TestIntervalHandbook(t *testing.T) {
	edf := EDF(WhiteFrequency, 1001, 10, 1)
	if got := fmt.Sprintf("%.3f", edf); got != "146.177" {
		t.Errorf("edf %s, want 146.177", got)
	}
	const dev = 9.159953e-02
	for _, c := range []struct {
		name            string
		p               float64
		low, high       string
		nearLow, nearHi float64
	}{
		{"two-sided 95 %", 0.95, "8.219488e-02", "1.034536e-01", 8.223942e-02, 1.035201e-01},
		{"one-sided 95 %", 0.90, "", "1.014218e-01", 0, 1.014923e-01},
		{"two-sided 68 %, taken as 0.6826", 0.6826, "8.66819e-02", "9.74619e-02", 0, 0},
	} {
		low, high, ok := Interval(dev, edf, c.p)
		if !ok {
			t.Fatalf("%s: no interval", c.name)
		}
		for _, end := range []struct {
			got  float64
			want string
			near float64
		}{{low, c.low, c.nearLow}, {high, c.high, c.nearHi}} {
			digits := strings.Index(end.want, "e") - 2
			if end.want != "" && fmt.Sprintf("%.*e", digits, end.got) != end.want {
				t.Errorf("%s: got %.6e, want %s", c.name, end.got, end.want)
			}
			if end.near != 0 && math.Abs(end.got/end.near-1) > 1e-3 {
				t.Errorf("%s: got %g, printed %g: off by more than 0.1 %%", c.name, end.got, end.near)
			}
		}
	}

	taus, _ := ParseTaus("10")
	r, err := Table(thousand(), Frequency, 1, taus)
	if err != nil {
		t.Fatal(err)
	}
	row := r.Rows[0]
	if row.Noise != WhiteFrequency || math.Abs(*row.Low/8.66819e-02-1) > 2e-5 || math.Abs(*row.High/9.74619e-02-1) > 2e-5 {
		t.Errorf("table: got %s, %g to %g", row.Noise, *row.Low, *row.High)
	}
}

// TestIntervalTN1337: NIST TN 1337, ch. 12: s² = 3 with 10 degrees of freedom,
// 90 %: 1.64 < σ² < 7.61; recomputed 1.6387 and 7.6136.
func TestIntervalTN1337(t *testing.T) {
	low, high, ok := Interval(math.Sqrt(3), 10, 0.90)
	if got := fmt.Sprintf("%.4f %.4f %v", low*low, high*high, ok); got != "1.6387 7.6136 true" {
		t.Errorf("got %s, want 1.6387 7.6136", got)
	}
}

func TestIntervalRefuses(t *testing.T) {
	for _, c := range [][3]float64{{1, 0, 0.9}, {1, math.NaN(), 0.9}, {1, math.Inf(1), 0.9}, {math.NaN(), 5, 0.9}, {1, 5, 0}, {1, 5, 1}, {-1, 5, 0.9}} {
		if low, high, ok := Interval(c[0], c[1], c[2]); ok {
			t.Errorf("%v: got %g to %g, want none", c, low, high)
		}
	}
}

// TestEDFAtTheEnd: at the longest averaging time every noise is down to the one
// or two degrees of freedom that two or three terms can have.
func TestEDFAtTheEnd(t *testing.T) {
	for _, n := range []Noise{WhitePhase, FlickerPhase, WhiteFrequency, FlickerFrequency, RandomWalk} {
		if e := EDF(n, 1001, 500, 1); !(e > 0.5 && e < 2.1) {
			t.Errorf("%s: edf %g at half the record", n, e)
		}
		if e := EDF(n, 10, 5, 1); e != 0 {
			t.Errorf("%s: edf %g without a term", n, e)
		}
	}
}

func TestTooFewPoints(t *testing.T) {
	for _, data := range [][]float64{nil, {1}, {1, 2}} {
		if _, err := Table(data, Phase, 1, Octave()); err == nil {
			t.Errorf("%v was taken", data)
		}
	}
	r, err := Table([]float64{0, 1, 0, 1}, Phase, 1, Octave())
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Rows) != 1 || r.Rows[0].OADev == nil || fmt.Sprint(r.Rows[0].Single) != "[hdev ohdev]" || r.Rows[0].Low != nil || r.Rows[0].Noise != "" {
		t.Errorf("4 points: got %+v", r.Rows)
	}
	if len(r.Warnings) != 2 || r.Warnings[0] != "only a single term goes into HDEV from tau 1 s on, OHDEV from tau 1 s on: such a figure may be far off, and has no interval" {
		t.Errorf("4 points: warnings %q", r.Warnings)
	}
	taus, _ := ParseTaus("1,500")
	if r, err = Table(thousand()[:100], Frequency, 1, taus); err != nil || len(r.Rows) != 1 || !strings.HasPrefix(r.Warnings[0], "averaging factor 500 is too long for 101 points: 50 is") {
		t.Errorf("got %+v, %v", r, err)
	}
}

// A table without a row is an empty list, and none at all is refused.
func TestNoRow(t *testing.T) {
	gaps := make([]float64, 20)
	for i := range gaps {
		gaps[i] = math.NaN()
	}
	gaps[0], gaps[19] = 1, 2
	r, err := Table(gaps, Phase, 1, Octave())
	if data, _ := json.Marshal(r); err != nil || !strings.Contains(string(data), `"rows":[]`) {
		t.Errorf("two points far apart: %s, %v", data, err)
	}
	taus, _ := ParseTaus("500")
	if _, err := Table(thousand()[:100], Phase, 1, taus); err == nil || err.Error() != "taus 500: too long for 100 points: 49 is the longest, half the record" {
		t.Errorf("too long a time alone: %v", err)
	}
}

func TestTausAndTau0(t *testing.T) {
	// The interval scales tau and, for phase, the deviation with it.
	x := phases(1, 1000, 0)
	one, _ := Table(x, Phase, 1, Decade())
	half, _ := Table(x, Phase, 0.5, Decade())
	if len(one.Rows) != 3 || one.Rows[2].TauS != 100 || half.Rows[2].TauS != 50 {
		t.Fatalf("decade rows: %d, last tau %g", len(one.Rows), one.Rows[len(one.Rows)-1].TauS)
	}
	if r := *half.Rows[1].OADev / *one.Rows[1].OADev; math.Abs(r-2) > 1e-12 {
		t.Errorf("halving the interval: ratio %g, want 2", r)
	}
	every, _ := Table(x[:40], Phase, 1, All())
	if len(every.Rows) != 19 {
		t.Errorf("all of 40 points: %d rows, want 19", len(every.Rows))
	}
	for _, bad := range []string{"0", "1,,2", "-3", "weekly", "1.5", "99999999999999999999"} {
		if _, err := ParseTaus(bad); err == nil {
			t.Errorf("taus %q were taken", bad)
		}
	}
	for _, good := range []string{"octave", "decade", "all", "1,2,10"} {
		if taus, err := ParseTaus(good); err != nil || taus.String() != good {
			t.Errorf("taus %q: got %v, %v", good, taus, err)
		}
	}
}

// TestTooManyTausAreRefused: all averaging times of a million points would be
// half a million passes over them.
func TestTooManyTausAreRefused(t *testing.T) {
	x := phases(1, 1_000_000, 0)
	_, err := Table(x, Phase, 1, All())
	e, ok := errors.AsType[*quantity.InputError](err)
	if !ok || !strings.Contains(e.Why, "over 1000000 points would take hours: 1500 are the most") {
		t.Fatalf("all of a million points: %v", err)
	}
	if r, err := Table(x[:2000], Phase, 1, All()); err != nil || len(r.Rows) != 999 {
		t.Errorf("all of 2000 points: %d rows, %v", len(r.Rows), err)
	}
}

// TestGapsTouchOnlyTheirTerms holds gapped data against the definitions on what
// is left, term by term.
func TestGapsTouchOnlyTheirTerms(t *testing.T) {
	y := thousand()[:60]
	x := make([]float64, 61)
	for i := range y {
		x[i+1] = x[i] + y[i]
	}
	x[20], x[33], y[20], y[33] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	for kind, data := range map[Kind][]float64{Phase: x, Frequency: y} {
		r, err := Table(data, kind, 1, All())
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range r.Rows {
			m := int(row.TauS)
			sum, n := 0.0, int64(0)
			for i := 0; i+2*m <= 60; i++ {
				d := x[i+2*m] - 2*x[i+m] + x[i]
				if kind == Frequency {
					d = float64(m) * (mean(y[i+m:i+2*m]) - mean(y[i:i+m]))
				}
				if !math.IsNaN(d) {
					sum += d * d
					n++
				}
			}
			want := math.Sqrt(sum/(2*float64(n))) / float64(m)
			if row.N != n || row.OADev != nil && math.Abs(*row.OADev-want) > 1e-9 {
				t.Errorf("kind %d, tau %d: got %v of %d, want %g of %d", kind, m, *row.OADev, row.N, want, n)
			}
		}
	}
}

func mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v
	}
	return sum / float64(len(y))
}

// TestSingleTerm: a figure of one term is that term, is marked, and has no interval.
func TestSingleTerm(t *testing.T) {
	x := phases(4, 101, 0)
	r, err := Table(x, Phase, 1, Taus{spacing: listed, list: []int64{49, 50}})
	if err != nil || len(r.Rows) != 2 {
		t.Fatalf("got %+v, %v", r, err)
	}
	three, one := r.Rows[0], r.Rows[1]
	want := math.Abs(x[100]-2*x[50]+x[0]) / math.Sqrt2 / 50
	if one.N != 1 || math.Abs(*one.OADev/want-1) > 1e-9 || one.Low != nil || one.Edf != nil || fmt.Sprint(one.Single) != "[adev oadev]" {
		t.Errorf("got %+v, want a deviation of %g", one, want)
	}
	if three.N != 3 || three.Low == nil || fmt.Sprint(three.Single) != "[adev]" {
		t.Errorf("three terms: got %+v", three)
	}
	const mark = "only a single term goes into ADEV from tau 49 s on, OADEV from tau 50 s on: "
	if !strings.HasPrefix(r.Warnings[0], mark) {
		t.Errorf("warnings %q, want %q", r.Warnings, mark)
	}
}

// TestGapsAtTheEnds: nothing lies beyond them, so they change no figure, and they are
// counted as those in the middle are.
func TestGapsAtTheEnds(t *testing.T) {
	x := phases(2, 100, 0)
	padded := append(append([]float64{math.NaN(), math.NaN()}, x...), math.NaN())
	a, err := Table(x, Phase, 1, Octave())
	if err != nil {
		t.Fatal(err)
	}
	b, err := Table(padded, Phase, 1, Octave())
	if err != nil {
		t.Fatal(err)
	}
	for i := range a.Rows {
		if *a.Rows[i].TotDev != *b.Rows[i].TotDev || *a.Rows[i].OADev != *b.Rows[i].OADev || *a.Rows[i].Low != *b.Rows[i].Low {
			t.Errorf("row %d differs", i)
		}
	}
	if len(b.Warnings) != len(a.Warnings)+1 || b.Warnings[0] != "3 gaps: the terms that touch them are left out" {
		t.Errorf("warnings %q", b.Warnings)
	}
}

func FuzzTable(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6, 255, 8}, true)
	f.Fuzz(func(t *testing.T, raw []byte, phase bool) {
		raw = raw[:min(len(raw), 100)] // the work grows with the square
		data := make([]float64, len(raw))
		for i, b := range raw {
			data[i] = float64(b) * math.Pow(10, float64(int(b)-128))
			if b == 255 {
				data[i] = math.NaN()
			}
		}
		kind := Frequency
		if phase {
			kind = Phase
		}
		r, err := Table(data, kind, 0.5, All())
		if err != nil {
			return
		}
		for _, row := range r.Rows {
			for name, v := range figures(row) {
				if v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
					t.Errorf("%s at tau %g is %g", name, row.TauS, *v)
				}
			}
			if row.Low != nil && !(*row.Low <= *row.OADev && *row.OADev <= *row.High) {
				t.Errorf("tau %g: %g is not within %g to %g", row.TauS, *row.OADev, *row.Low, *row.High)
			}
		}
	})
}

func BenchmarkTable(b *testing.B) {
	y := thousand()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Table(y, Frequency, 1, All()); err != nil {
			b.Fatal(err)
		}
	}
}

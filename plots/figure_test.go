package plots

import (
	"bytes"
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

var update = flag.Bool("update", false, "write the golden figures anew")

// golden figures are held as text: a change shows as a difference one can read,
// and is looked at before it is kept.
func TestGoldenFigures(t *testing.T) {
	for _, name := range Kinds() {
		t.Run(name, func(t *testing.T) {
			got := mustSVG(t, mustDraw(t, name, findingsExample()))
			path := filepath.Join("testdata", name+".svg")
			if *update {
				if err := os.WriteFile(path, got, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Errorf("differs from %s, first at byte %d; go test ./plots -update draws it anew", path, firstDifference(got, want))
			}
		})
	}
}

func firstDifference(a, b []byte) int {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return i
		}
	}
	return min(len(a), len(b))
}

func TestTitlesSayTheFinding(t *testing.T) {
	loses := beatExample()
	loses.Rate = beat.Rate{Value: quantity.Value{V: -3.2, U: 0.2, K: 2}}
	even := beatExample()
	even.Rate = beat.Rate{Value: quantity.Value{V: 0.1, U: 0.2, K: 2}}
	even.BeatError = quantity.Value{V: 0.00001, U: 0.00002}
	uneven, nearly, oneSide := beatExample(), beatExample(), beatExample()
	uneven.BeatError = quantity.Value{V: 0.025, U: 0.00002}
	nearly.BeatError = quantity.Value{V: 0.019, U: 0.001}
	oneSide.BeatError, oneSide.TickTock = quantity.Value{}, quantity.Value{}
	quiet := beatExample()
	for i := range quiet.Wheels {
		quiet.Wheels[i].Significant = false
	}
	aDay := findingsExample()
	aDay.Going.Segments, aDay.Going.SpanDays = nil, 1
	tests := []struct {
		name, kind string
		f          Findings
		want       string
	}{
		{"fits", "barrel", Findings{Spring: springExample()}, "The spring fits this barrel. It gives 11.78 ± 0.22 of 11.80 possible turns"},
		{"short", "barrel", Findings{Spring: springCase(45, 15, 0.4, 900, spring.Short)}, "The spring is too short for this barrel. It gives 7.15 ± 0.10 of 8.85 possible turns"},
		{"long", "turns", Findings{Spring: springCase(45, 15, 0.4, 2600, spring.Long)}, "The spring is too long for this barrel. It gives 7.29 ± 0.10 of 8.85 possible turns"},
		{"no length", "barrel", Findings{Spring: springCase(45, 15, 0.4, 0, spring.CannotTell)}, "Cannot tell yet whether the spring fits: length not known"},
		{"not all measured", "turns", Findings{Spring: springCase(45, 15, 0.4, 1767, spring.Fits)}, "The length fits; height not measured. It gives 8.85 ± 0.10 of 8.85 possible turns"},
		{"too high", "barrel", Findings{Spring: springCase(45, 15, 0.4, 1767, spring.DoesNotGo)}, "The length fits; too high for the barrel by 0.300 ± 0.047 mm. It gives 8.85"},
		{"gains", "beat", Findings{Rate: beatExample()}, "The clock gains 12.31 ± 0.41 s/day; in beat, 0.60 ± 0.02 ms off"},
		{"loses", "beat", Findings{Rate: loses}, "The clock loses 3.20 ± 0.40 s/day; in beat"},
		{"uneven", "beat", Findings{Rate: uneven}, "The clock gains 12.31 ± 0.41 s/day; out of beat by 25.0 ms"},
		{"nearly uneven", "beat", Findings{Rate: nearly}, "The clock gains 12.31 ± 0.41 s/day; whether it is in beat cannot be told yet"},
		{"one side", "beat", Findings{Rate: oneSide}, "The clock gains 12.31 ± 0.41 s/day; whether it is in beat cannot be told yet"},
		{"even", "beat", Findings{Rate: even}, "The clock gains or loses too little to tell yet: +0.10 ± 0.40 s/day; in beat, 0.0 ms off"},
		{"wheel", "wheels", Findings{Rate: beatExample()}, "A periodic error goes with the escape arbor (0.30 ± 0.03 ms)"},
		{"no wheel", "wheels", Findings{Rate: quiet}, "No arbor stands out of the noise in this run"},
		{"stability", "stability", findingsExample(), "Steadiest over 8.53 min: 0.036 s/day (68 % interval 0.029 to 0.049)"},
		{"going", "going", findingsExample(), "Since it was adjusted the clock gains 0.93 ± 0.14 s/day; dial now 16.40 ± 0.59 s fast"},
		{"going of a day", "going", aDay, "The clock gained 2.34 ± 0.12 s/day over 24 h; dial now"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			fig := mustDraw(t, tt.kind, tt.f)
			if !strings.HasPrefix(fig.Title, tt.want) {
				t.Errorf("title %q, want %q", fig.Title, tt.want)
			}
			// Each word of the title is in the drawing too, whole and in order.
			if drawn := strings.Join(texts(t, mustSVG(t, fig)), " "); !strings.Contains(drawn, fig.Title) {
				t.Errorf("title %q isn't drawn in %q", fig.Title, drawn)
			}
		})
	}
}

func TestAxesCarryUnits(t *testing.T) {
	for kind, want := range map[string][]string{
		"barrel":    {"bore 63.50 ± 0.02 mm", "coil, outside Ø 47.21 ± 0.39 mm", "coil, inside Ø 45.35 ± 0.39 mm", "arbor 15.88 ± 0.02 mm", "2794 ± 6 mm"},
		"turns":     {"length of strip, mm", "Turns of the barrel, by length of strip", "0.56 mm"},
		"beat":      {"time, min", "Late (+) or early (−) against an even beat, ms", "Rate over windows of 120 s, s/day (+ = gains)", "Tick and tock, ms", "tick to tock, 1000.5 ms", "tock to tick, 999.3 ms"},
		"wheels":    {"amplitude, ms", "Late (+) or early (−) through one turn of the escape wheel, ms", "third, 7.5 min: 0.020 ± 0.075 ms"},
		"stability": {"averaging time, s", "Deviation of the rate, parts per million", "s/day"},
		"going":     {"Error of the dial, s (+ = fast)", "Rate from check to check, s/day (+ = gains)", "Temperature, °C", "12 Mar", "adjusted −0.05 turns"},
	} {
		drawn := texts(t, mustSVG(t, mustDraw(t, kind, findingsExample())))
		for _, w := range want {
			if !slices.Contains(drawn, w) {
				t.Errorf("%s: %q isn't in the drawing: %q", kind, w, drawn)
			}
		}
	}
	f := Findings{Spring: springExample(), Units: quantity.Imperial}
	for kind, want := range map[string]string{"barrel": "bore 2.500 ± 0.001 in", "turns": "length of strip, in"} {
		if drawn := texts(t, mustSVG(t, mustDraw(t, kind, f))); !slices.Contains(drawn, want) {
			t.Errorf("in inches, %s: %q isn't in the drawing: %q", kind, want, drawn)
		}
	}
}

// TestFewPoints draws each figure with 0, 1 and 3 points and in the awkward cases
// that make the drawing library panic: equal times, zeros on a logarithmic axis.
func TestFewPoints(t *testing.T) {
	g, rec := goingExample()
	dev, none := 2e-6, 0.0
	few := func(n int) Findings {
		f := findingsExample()
		f.Rate.Trace, f.Rate.Fold, f.Rate.Wheels = f.Rate.Trace[:n], f.Rate.Fold[:n], f.Rate.Wheels[:min(n, 1)]
		f.Rate.ShortTerm = f.Rate.ShortTerm[:n]
		f.Stability.Rows = f.Stability.Rows[:n]
		f.Going = &going.Result{Checks: n, Curve: g.Curve[:n], Daily: g.Daily[:max(0, n-1)]}
		f.Record = sessions.Record{Checks: rec.Checks[:n], Events: rec.Events, Air: rec.Air[:n]}
		f.Spring = []*spring.Result{nil, {Bore: val(0.06, 0), Arbor: val(0.02, 0)}, nil, springCase(45, 15, 0.4, 0, "")}[n]
		return f
	}
	cases := map[string]Findings{"nothing": {}, "0": few(0), "1": few(1), "3": few(3)}
	same := few(3)
	for i := range 3 {
		same.Rate.Trace[i] = beat.TracePoint{TimeS: 5}
		same.Rate.Fold[i] = beat.FoldPoint{}
		same.Stability.Rows[i] = stability.Row{TauS: 1, OADev: &dev}
		same.Going.Curve = slices.Clone(same.Going.Curve)
		same.Going.Curve[i].At = g.Curve[0].At
	}
	cases["all the same"] = same
	zero := few(3)
	zero.Stability.Rows = []stability.Row{{TauS: 0, OADev: &dev}, {TauS: 1, OADev: &none}, {TauS: 2}}
	cases["zeros"] = zero
	broken := few(3)
	broken.Rate.Trace[1].ResidualS = math.NaN()
	broken.Rate.Rate.V = math.Inf(1)
	broken.Going.Curve = slices.Clone(broken.Going.Curve)
	broken.Going.Curve[1].ErrorS, broken.Going.Curve[1].ModelS = math.NaN(), math.Inf(-1)
	broken.Going.Daily = []going.Daily{{From: rec.Checks[0].At, To: rec.Checks[1].At, Rate: quantity.Value{V: math.NaN()}}}
	cases["no numbers"] = broken
	for name, f := range cases {
		for _, kind := range Kinds() {
			t.Run(name+" "+kind, func(t *testing.T) {
				svg := mustSVG(t, mustDraw(t, kind, f))
				if s := string(svg); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
					t.Error("the drawing holds what is no number")
				}
				empty := strings.Contains(string(svg), "Nothing recorded yet")
				if name == "nothing" && !empty {
					t.Errorf("without findings: %q, want an empty figure", texts(t, svg))
				}
				if name == "3" && empty && kind != "turns" {
					t.Error("empty with three points")
				}
			})
		}
	}
}

func TestDrawRefuses(t *testing.T) {
	for name, tt := range map[string]struct {
		kind string
		r    *spring.Result
		want string
	}{
		"kind":    {"pendulum", nil, `figure "pendulum" is not known: there are ` + strings.Join(Kinds(), ", ")},
		"swapped": {"barrel", &spring.Result{Bore: val(0.01, 0), Arbor: val(0.02, 0)}, "figure barrel: bore 0.01 m, arbor 0.02 m: the bore must be larger than the arbor"},
		"strip":   {"turns", &spring.Result{Bore: val(0.03, 0), Arbor: val(0.01, 0), Strip: val(-1, 0)}, "figure turns: bore 0.03 m, arbor 0.01 m, strip -1 m: the bore must be larger than the arbor, and the strip must go between them"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Draw(tt.kind, Findings{Spring: tt.r})
			if err == nil || err.Error() != tt.want {
				t.Errorf("error %v, want %s", err, tt.want)
			}
		})
	}
}

// TestDrawnAtOnce draws every figure in every format from eight goroutines; under
// the race detector it tells whether anything is shared. The same figure must
// give the same SVG whoever draws it.
func TestDrawnAtOnce(t *testing.T) {
	f := findingsExample()
	var wg sync.WaitGroup
	for _, kind := range Kinds() {
		fig := mustDraw(t, kind, f)
		want := mustSVG(t, fig)
		for range 2 {
			wg.Go(func() {
				got, err := fig.SVG()
				_, perr := fig.PNG(60)
				_, derr := fig.PDF()
				if err := errors.Join(err, perr, derr); err != nil || !bytes.Equal(got, want) {
					t.Errorf("%s: error %v, same bytes %t", kind, err, bytes.Equal(got, want))
				}
			})
		}
	}
	wg.Wait()
}

func TestTextStaysInside(t *testing.T) {
	long := findingsExample()
	long.Record.Events[2].Text = strings.Repeat("draught ", 40)
	long.Units = quantity.Both
	for _, kind := range Kinds() {
		fig := mustDraw(t, kind, long)
		staysInside(t, fig, placed(t, mustSVG(t, fig)))
	}
}

// staysInside holds that no words leave the figure.
func staysInside(t *testing.T, fig Figure, all []words) {
	t.Helper()
	width, height := fig.size()
	for _, p := range all {
		if p.x < 0 || p.x+p.width > width.Points() || p.y < 0 || p.y > height.Points() {
			t.Errorf("%s: %q stands at %.0f to %.0f, %.0f of %.0f by %.0f", fig.Kind, p.words, p.x, p.x+p.width, p.y,
				width.Points(), height.Points())
		}
	}
}

func TestNoWordsOverlap(t *testing.T) {
	for _, units := range []quantity.System{quantity.Metric, quantity.Imperial, quantity.Both} {
		f := findingsExample()
		f.Units = units
		for _, kind := range Kinds() {
			apart(t, kind, placed(t, mustSVG(t, mustDraw(t, kind, f))))
		}
	}
}

// apart holds that no words cover others.
func apart(t *testing.T, kind string, all []words) {
	t.Helper()
	for i, a := range all {
		for _, b := range all[i+1:] {
			if a.x < b.x+b.width && b.x < a.x+a.width && math.Abs(a.y-b.y) < 0.6*min(a.size, b.size) {
				t.Errorf("%s: %q covers %q", kind, a.words, b.words)
			}
		}
	}
}

func TestHostileWords(t *testing.T) {
	f := findingsExample()
	f.Record.Events[2].Text = "<script>\x00\xff\x1b[31m&"
	f.Rate.Wheels[0].Name = `"><script>`
	for _, kind := range Kinds() {
		svg := mustSVG(t, mustDraw(t, kind, f))
		texts(t, svg) // fails where the XML is broken
		if bytes.Contains(svg, []byte("<script")) {
			t.Errorf("%s: a script got in", kind)
		}
	}
}

func mustDraw(t *testing.T, kind string, f Findings) Figure {
	t.Helper()
	fig, err := Draw(kind, f)
	if err != nil {
		t.Fatal(err)
	}
	return fig
}

func mustSVG(t *testing.T, f Figure) []byte {
	t.Helper()
	svg, err := f.SVG()
	if err != nil {
		t.Fatal(err)
	}
	return svg
}

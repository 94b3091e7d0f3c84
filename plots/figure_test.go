package plots

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"

	"gonum.org/v1/plot/vg/draw"
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
	loses.Rate = beat.Rate{Value: -3.2, U: 0.2, Low95: -3.6, High95: -2.8}
	even := beatExample()
	even.Rate = beat.Rate{Value: 0.1, U: 0.2, Low95: -0.3, High95: 0.5}
	even.BeatError = quantity.Value{V: 0.00001, U: 0.00002}
	quiet := beatExample()
	for i := range quiet.Wheels {
		quiet.Wheels[i].Significant = false
	}
	tests := []struct {
		name, kind string
		f          Findings
		want       string
	}{
		{"fits", "barrel", Findings{Spring: springExample()}, "The spring fits: 11.78 ± 0.22 of 11.80 possible turns"},
		{"short", "barrel", Findings{Spring: springCase(45, 15, 0.4, 900, spring.Short)}, "The spring is too short: 7.152 ± 0.098 of 8.853 possible turns"},
		{"long", "turns", Findings{Spring: springCase(45, 15, 0.4, 2600, spring.Long)}, "The spring is too long: 7.291 ± 0.098 of 8.853 possible turns"},
		{"no length", "barrel", Findings{Spring: springCase(45, 15, 0.4, 0, spring.CannotTell)}, "Cannot tell yet whether the spring fits: its length is not known"},
		{"straddles", "barrel", Findings{Spring: springCase(45, 15, 0.4, 1420, spring.CannotTell)}, "Cannot tell whether the spring fits: the measurement leaves it open"},
		{"does not go", "barrel", Findings{Spring: springCase(45, 15, 0.4, 4000, spring.DoesNotGo)}, "This spring does not go into this barrel"},
		{"gains", "beat", Findings{Rate: beatExample()}, "The clock gains 12.31 ± 0.41 s/day; out of beat by 0.605 ± 0.012 ms"},
		{"loses", "beat", Findings{Rate: loses}, "The clock loses 3.20 ± 0.40 s/day; out of beat"},
		{"even", "beat", Findings{Rate: even}, "The clock keeps time within +0.10 ± 0.40 s/day; in beat within 0.010 ± 0.039 ms"},
		{"wheel", "wheels", Findings{Rate: beatExample()}, "A periodic error goes with the escape arbor (0.300 ± 0.027 ms)"},
		{"no wheel", "wheels", Findings{Rate: quiet}, "No arbor stands out of the noise in this run"},
		{"stability", "stability", findingsExample(), "Steadiest over 8.53 min: 0.036 s/day (68 % interval 0.029 to 0.049)"},
		{"going", "going", findingsExample(), "The clock gained 2.34 ± 0.12 s/day over 7 days; dial now 16.40 ± 0.59 s fast"},
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
		"barrel":    {"bore 63.500 ± 0.020 mm", "coil to 47.21 ± 0.39 mm", "coil in to 45.35 ± 0.39 mm", "arbor 15.875 ± 0.020 mm", "2794.0 ± 5.9 mm"},
		"turns":     {"length of strip, m", "Turns of the barrel, by length of strip", "0.56 mm"},
		"beat":      {"time, min", "Late (+) or early (−) against an even beat, ms", "Time since the beat before, ms"},
		"wheels":    {"amplitude, ms", "Late (+) or early (−) through one turn of the escape wheel, ms", "third, 7.5 min"},
		"stability": {"averaging time, s", "Deviation of the rate, parts per million", "s/day"},
		"going":     {"Error of the dial, s (+ = fast)", "Rate from check to check, s/day (+ = gains)", "Temperature, °C", "12 Mar", "adjusted -0.05 turns"},
	} {
		drawn := texts(t, mustSVG(t, mustDraw(t, kind, findingsExample())))
		for _, w := range want {
			if !slices.Contains(drawn, w) {
				t.Errorf("%s: %q isn't in the drawing: %q", kind, w, drawn)
			}
		}
	}
	f := Findings{Spring: springExample(), Units: quantity.Imperial}
	for kind, want := range map[string]string{"barrel": "bore 2.50000 ± 0.00077 in", "turns": "length of strip, in"} {
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
		f.Stability.Rows = f.Stability.Rows[:n]
		f.Going = &going.Result{Checks: n, Curve: g.Curve[:n], Daily: g.Daily[:max(0, n-1)]}
		f.Record = sessions.Record{Checks: rec.Checks[:n], Events: rec.Events, Air: rec.Air[:n]}
		f.Spring = []*spring.Result{nil, {Bore: val(0.06, 0), Arbor: val(0.02, 0)}, nil, springCase(45, 15, 0.4, 0, "")}[n]
		return f
	}
	cases := map[string]Findings{"nothing": {}, "0": few(0), "1": few(1), "3": few(3)}
	same := few(3)
	for i := range 3 {
		same.Rate.Trace[i] = beat.TracePoint{TimeS: 5, HalfS: 1}
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
	broken.Rate.Rate.Value = math.Inf(1)
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
		"kind":    {"pendulum", nil, `figure "pendulum" is not known: there are barrel, turns, beat, wheels, stability, going`},
		"swapped": {"barrel", &spring.Result{Bore: val(0.01, 0), Arbor: val(0.02, 0)}, "figure barrel: bore 0.01 m, arbor 0.02 m: the bore must be larger than the arbor"},
		"strip":   {"turns", &spring.Result{Bore: val(0.03, 0), Arbor: val(0.01, 0), Strip: val(-1, 0)}, "figure turns: bore 0.03 m, arbor 0.01 m, strip -1 m: the bore must be larger than the arbor, and the strip more than nothing"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Draw(tt.kind, Findings{Spring: tt.r})
			if err == nil || err.Error() != tt.want {
				t.Errorf("error %v, want %s", err, tt.want)
			}
		})
	}
}

// TestOutlierSurvives thins a day of beats with one late beat in it.
func TestOutlierSurvives(t *testing.T) {
	var points []point
	for i := range 86400 {
		points = append(points, point{float64(i), math.Sin(float64(i))})
	}
	points[54321].y = 40
	points[11111].y = -30
	got := thin(points, beatColumns)
	if len(got) > 2*beatColumns+2 {
		t.Errorf("%d points left, want at most two a column", len(got))
	}
	for _, i := range []int{54321, 11111} {
		if !slices.Contains(got, points[i]) {
			t.Errorf("the outlier %v is gone", points[i])
		}
	}
	if !slices.IsSortedFunc(got, func(a, b point) int { return int(a.x - b.x) }) {
		t.Error("the points are out of order")
	}
	if !slices.Equal(thin(points[:100], beatColumns), points[:100]) {
		t.Error("a short record didn't come back whole")
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
		for _, p := range placed(t, mustSVG(t, fig)) {
			if p.x < 0 || p.x+p.width > figureWidth.Points() || p.y < 0 || p.y > fig.height.Points() {
				t.Errorf("%s: %q stands at %.0f to %.0f, %.0f of %.0f by %.0f", kind, p.words, p.x, p.x+p.width, p.y,
					figureWidth.Points(), fig.height.Points())
			}
		}
	}
}

func TestNoWordsOverlap(t *testing.T) {
	for _, units := range []quantity.System{quantity.Metric, quantity.Imperial, quantity.Both} {
		f := findingsExample()
		f.Units = units
		for _, kind := range Kinds() {
			all := placed(t, mustSVG(t, mustDraw(t, kind, f)))
			for i, a := range all {
				for _, b := range all[i+1:] {
					if a.x < b.x+b.width && b.x < a.x+a.width && math.Abs(a.y-b.y) < 0.6*min(a.size, b.size) {
						t.Errorf("%s: %q covers %q", kind, a.words, b.words)
					}
				}
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

func TestCalendar(t *testing.T) {
	paris, err := time.LoadLocation("Europe/Paris")
	if err != nil {
		t.Fatal(err)
	}
	// The clocks go forward on 29 March 2026: that day has 23 hours.
	d := dayTicks{start: time.Date(2026, 3, 27, 12, 0, 0, 0, paris)}
	for _, tt := range []struct {
		days float64
		want string
	}{
		{0.2, "12:00 13:00 14:00 15:00 16:00"},
		{4, "28 Mar 29 Mar 30 Mar 31 Mar"},
		{300, "May 2026 Jul 2026 Sep 2026 Nov 2026 Jan 2027"},
	} {
		var got []string
		for _, tick := range d.Ticks(0, tt.days) {
			got = append(got, tick.Label)
			if at := d.at(tick.Value).Round(time.Second); tt.days > 2 && (at.Hour() != 0 || at.Minute() != 0) {
				t.Errorf("a day's tick falls at %v", at)
			}
		}
		if strings.Join(got, " ") != tt.want {
			t.Errorf("over %g days: %q, want %q", tt.days, got, tt.want)
		}
	}
}

func TestTicks(t *testing.T) {
	labels := func(tk interface {
		Ticks(lo, hi float64) []tick
	}, lo, hi float64) string {
		var out []string
		for _, t := range tk.Ticks(lo, hi) {
			if t.Label != "" {
				out = append(out, t.Label)
			}
		}
		return strings.Join(out, " ")
	}
	for _, tt := range []struct{ got, want string }{
		{labels(evenTicks{}, -0.31, 0.62), "−0.2 0 0.2 0.4 0.6"},
		{labels(evenTicks{sign: true}, -12, 26), "−10 0 +10 +20"},
		{labels(evenTicks{}, 999.1, 1000.9), "999.5 1000.0 1000.5"},
		{labels(evenTicks{}, 1, 1), ""},
		{labels(decadeTicks{}, 0.5, 20000), "1 10 100 1000 10\u00a0000"},
		{labels(decadeTicks{}, 2, 8), "2 3 5"},
		{labels(decadeTicks{}, 3e-6, 4e-5), "5e−6 1e−5 2e−5"},
		{labels(decadeTicks{}, 0, 10), ""},
	} {
		if tt.got != tt.want {
			t.Errorf("labels %q, want %q", tt.got, tt.want)
		}
	}
}

// TestSpiralLength walks the drawn spiral: Archimedes' spiral of n turns between
// two radii is π·n·(inner + outer) long but for a term of the second order in the
// pitch, which over 15 turns of 1 point is under 0.1 %.
func TestSpiralLength(t *testing.T) {
	const inner, outer, turns = 20.0, 35.0, 15.0
	path := spiral(draw.Canvas{}.Min, inner, outer, 1, turns)
	var length, furthest float64
	from := path[0].Pos
	for _, c := range path[1:] {
		last := from
		for i := 1; i <= 50; i++ {
			s := float64(i) / 50
			at := func(a, b, c, d float64) float64 {
				r := 1 - s
				return r*r*r*a + 3*r*r*s*b + 3*r*s*s*c + s*s*s*d
			}
			x := at(from.X.Points(), c.Control[0].X.Points(), c.Control[1].X.Points(), c.Pos.X.Points())
			y := at(from.Y.Points(), c.Control[0].Y.Points(), c.Control[1].Y.Points(), c.Pos.Y.Points())
			length += math.Hypot(x-last.X.Points(), y-last.Y.Points())
			last.X, last.Y = ptOf(x), ptOf(y)
			furthest = max(furthest, math.Hypot(x, y))
		}
		from = c.Pos
	}
	if want := math.Pi * turns * (inner + outer); math.Abs(length/want-1) > 1e-3 {
		t.Errorf("%.2f points long, want %.2f", length, want)
	}
	if math.Abs(furthest-outer) > 0.01 {
		t.Errorf("reaches %.3f points, want %.3f", furthest, outer)
	}
}

func TestWriteFiles(t *testing.T) {
	dir := t.TempDir()
	fig := mustDraw(t, "barrel", findingsExample())
	for ext, head := range map[string]string{"svg": "<?xml", "png": "\x89PNG", "pdf": "%PDF-", "PNG": "\x89PNG"} {
		path := filepath.Join(dir, "barrel."+ext)
		if err := fig.Write(path); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(path)
		if err != nil || !bytes.HasPrefix(got, []byte(head)) {
			t.Errorf("%s opens with %.8q, error %v", path, got, err)
		}
	}
	if err := fig.Write(filepath.Join(dir, "barrel.bmp")); err == nil || !strings.Contains(err.Error(), "end the name in .svg, .png or .pdf") {
		t.Errorf("error %v, want the formats named", err)
	}
	if err := fig.Write(filepath.Join(dir, "none", "barrel.svg")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("error %v, want that the folder isn't there", err)
	}
	if err := (Figure{}).Write(filepath.Join(dir, "x.svg")); err == nil {
		t.Error("a figure that wasn't drawn was written")
	}
	names, err := os.ReadDir(dir)
	if err != nil || len(names) != 4 {
		t.Errorf("%v in the folder (error %v), want four figures and nothing half-written", names, err)
	}
}

func TestPNGDensity(t *testing.T) {
	data, err := mustDraw(t, "turns", findingsExample()).PNG(300)
	if err != nil {
		t.Fatal(err)
	}
	pic, err := png.DecodeConfig(bytes.NewReader(data))
	// 17 cm at 300 pixels an inch is 2007.9 pixels.
	if err != nil || pic.Width != 2008 {
		t.Errorf("%d pixels wide, error %v, want 2008", pic.Width, err)
	}
	// 300/0.0254 = 11811.02 pixels a metre, in a chunk whose CRC the decoder checked.
	if !bytes.Contains(data, []byte("pHYs\x00\x00\x2e\x23\x00\x00\x2e\x23\x01")) {
		t.Error("no mark of 11811 pixels a metre")
	}
	if _, err := mustDraw(t, "turns", findingsExample()).PNG(0); err == nil {
		t.Error("0 pixels an inch was taken")
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

// texts returns the words of all text elements of an SVG, in order.
func texts(t *testing.T, svg []byte) []string {
	t.Helper()
	var words []string
	for _, p := range placed(t, svg) {
		words = append(words, p.words)
	}
	return words
}

// words is a piece of text as an SVG places it, y from the top.
type words struct {
	words             string
	x, y, width, size float64
}

func placed(t *testing.T, svg []byte) []words {
	t.Helper()
	var all []words
	dec := xml.NewDecoder(bytes.NewReader(svg))
	height, inside := 0.0, false
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "svg":
				height = number(t, e, "height")
			case "text":
				inside = true
				all = append(all, words{x: number(t, e, "x"), y: height + number(t, e, "y"), width: number(t, e, "textLength"), size: fontSize(t, e)})
			}
		case xml.EndElement:
			inside = inside && e.Name.Local != "text"
		case xml.CharData:
			if inside {
				all[len(all)-1].words += string(e)
			}
		}
	}
}

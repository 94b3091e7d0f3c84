package plots

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// onScreens are the widths of phones and of what lies between a phone and a page.
var onScreens = []int{MinWidth, 360, 390, 600}

// smallestLetters are the least that are read at arm's length on a phone, in CSS pixels.
const smallestLetters = 12

// On a phone each figure is as wide as the screen, its words have a size that can be read,
// none leaves the picture and none covers another.
func TestNarrowFigures(t *testing.T) {
	for _, units := range []quantity.System{quantity.Metric, quantity.Both} {
		f := findingsExample()
		f.Units = units
		f.Rate = toothExample(beat.ToothBent, true, 12, 0.003, 22, 37)
		for _, f.Width = range onScreens {
			for _, kind := range Kinds() {
				fig := mustDraw(t, kind, f)
				if width, _ := fig.size(); math.Abs(width.Points()/0.75-float64(f.Width)) > 0.01 {
					t.Errorf("%s: %.1f pixels wide, want %d", kind, width.Points()/0.75, f.Width)
				}
				all := placed(t, mustSVG(t, fig))
				staysInside(t, fig, all)
				apart(t, kind, all)
				for _, w := range all {
					if w.size/0.75 < smallestLetters {
						t.Errorf("%s, %d pixels: %q is %.1f pixels high, want %d", kind, f.Width, w.words, w.size/0.75, smallestLetters)
					}
				}
			}
		}
	}
}

// A figure is laid out anew below the width of a page, and is the page's from there on.
func TestWidths(t *testing.T) {
	f := findingsExample()
	page := mustSVG(t, mustDraw(t, "going", f))
	for width, same := range map[int]bool{MinWidth: false, 641: false, 643: true, 960: true, MaxWidth: true} {
		f.Width = width
		if got := slices.Equal(mustSVG(t, mustDraw(t, "going", f)), page); got != same {
			t.Errorf("%d pixels: the page's drawing: %t, want %t", width, got, same)
		}
	}
	for _, width := range []int{-1, MinWidth - 1, MaxWidth + 1} {
		f.Width = width
		if _, err := Draw("going", f); err == nil || !strings.Contains(err.Error(), "ask for 320 to 4096") {
			t.Errorf("%d pixels: error %v, want the limits", width, err)
		}
	}
}

// On a phone the two barrels stand one above the other.
func TestBarrelsInAColumn(t *testing.T) {
	at := func(width int, name string) words {
		f := Findings{Spring: springExample(), Width: width}
		all := placed(t, mustSVG(t, mustDraw(t, "barrel", f)))
		return all[slices.IndexFunc(all, func(w words) bool { return w.words == name })]
	}
	wound, rundown := at(360, "Wound"), at(360, "Run down")
	if middle := (wound.x + wound.width/2) - (rundown.x + rundown.width/2); math.Abs(middle) > 0.1 || rundown.y < wound.y+200 {
		t.Errorf("on a phone the barrels stand at %v and %v", wound, rundown)
	}
	if wound, rundown = at(0, "Wound"), at(0, "Run down"); wound.y != rundown.y || rundown.x < wound.x+200 {
		t.Errorf("on paper the barrels stand at %v and %v", wound, rundown)
	}
}

// neverBelow are the figures whose numbers are never below nothing.
var neverBelow = []string{"barrel", "turns"}

// A number below nothing has a minus, and no hyphen, wherever a figure has words.
func TestMinus(t *testing.T) {
	f := findingsExample()
	f.Rate.Rate = beat.Rate{Value: quantity.Value{V: -12.31, U: 0.21}}
	f.Rate.TickTock.V *= -1
	for i := range f.Rate.ShortTerm {
		f.Rate.ShortTerm[i].Rate.V *= -1
	}
	g := f.Going
	g.Trend, g.MeanRate, g.ErrorNow, g.RateNow = val(-0.5, 0.01), val(-0.1, 0.2), val(-0.1, 0.2), val(-3, 0.1)
	for i := range g.Curve {
		g.Curve[i].ErrorS *= -1
	}
	for i := range f.Record.Air {
		f.Record.Air[i].TemperatureC -= 30
	}
	small := 3e-11
	f.Stability.Rows[0].OADev = &small
	hyphen := regexp.MustCompile(`(^|[^0-9A-Za-z])-[0-9.]|[0-9]e-`)
	for _, f.Width = range []int{0, 390} {
		for _, kind := range Kinds() {
			fig := mustDraw(t, kind, f)
			minus := 0
			for _, w := range append(texts(t, mustSVG(t, fig)), fig.Title, fig.Note, fig.Desc) {
				if hyphen.MatchString(w) {
					t.Errorf("%s: %q has a hyphen for a minus", kind, w)
				}
				minus += strings.Count(w, "−")
			}
			if minus == 0 && !slices.Contains(neverBelow, kind) {
				t.Errorf("%s: nothing below nothing was drawn: give it such findings here, or name it in neverBelow", kind)
			}
		}
	}
}

// Where one side alone is heard there are no two lengths, and no empty panel stands for
// them; with no beat that can be drawn there is no figure of beats.
func TestBeatLeavesOutWhatIsMissing(t *testing.T) {
	oneSide := beatExample()
	oneSide.TickTock, oneSide.BeatError = quantity.Value{}, quantity.Value{}
	fig := mustDraw(t, "beat", Findings{Rate: oneSide})
	drawn := texts(t, mustSVG(t, fig))
	if slices.Contains(drawn, "Tick and tock, ms") || strings.Contains(fig.Desc, "tock") {
		t.Errorf("one side was heard: %q, %q", drawn, fig.Desc)
	}
	if !slices.Contains(drawn, "time, min") {
		t.Errorf("the last panel over time has no name for its axis: %q", drawn)
	}
	for i := range oneSide.Trace {
		oneSide.Trace[i].ResidualS = math.NaN()
	}
	if fig = mustDraw(t, "beat", Findings{Rate: oneSide}); !strings.HasPrefix(fig.Title, "Nothing recorded yet") {
		t.Errorf("no beat can be drawn: %q", fig.Title)
	}
}

// extensions are the thin lines from the ends of a dimension.
var extensions = regexp.MustCompile(`<path d="M([0-9.]+),([0-9.]+)L([0-9.]+),([0-9.]+)" style="fill:none;stroke:#6B6258;stroke-width:0.45" />`)

// No words stand on the line of a dimension, however wide they are for it.
func TestDimensionsAreClear(t *testing.T) {
	long := *springExample()
	long.Bore, long.Arbor = val(0.06, 0.00123), val(0.004, 0.00123)
	cases := map[string]*spring.Result{"usual": springExample(), "thin arbor": &long,
		"little strip": springCase(45, 15, 0.4, 60, spring.Short), "no length": springCase(45, 15, 0.4, 0, spring.CannotTell)}
	for name, r := range cases {
		for _, units := range []quantity.System{quantity.Metric, quantity.Imperial, quantity.Both} {
			for _, width := range []int{0, 360} {
				fig := mustDraw(t, "barrel", Findings{Spring: r, Units: units, Width: width})
				svg := mustSVG(t, fig)
				_, height := fig.size()
				lines := extensions.FindAllSubmatch(svg, -1)
				if want := map[bool]int{false: 4, true: 8}[name != "no length"]; len(lines) != want {
					t.Fatalf("%s: %d thin lines, want %d", name, len(lines), want)
				}
				for _, w := range placed(t, svg) {
					foot := height.Points() - w.y
					for _, l := range lines {
						var at [4]float64
						for i := range at {
							at[i], _ = strconv.ParseFloat(string(l[i+1]), 64)
						}
						if at[0] > w.x && at[0] < w.x+w.width && min(at[1], at[3]) < foot+0.7*w.size && max(at[1], at[3]) > foot {
							t.Errorf("%s, %v, %d pixels: %q stands on a line at %.0f", name, units, width, w.words, at[0])
						}
					}
				}
			}
		}
	}
}

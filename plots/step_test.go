package plots

import (
	"bytes"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"evenbeat/sessions"
)

// Every dimension that a plan can measure has its drawing, which names it, at a size that
// is read on a phone, and marks it with arrows. What isn't known has none.
func TestEveryDimensionHasItsStep(t *testing.T) {
	heads := regexp.MustCompile(`style="fill:#9C3B24" />`)
	seen := map[string]string{}
	told := []string{"set-up", "stop-turns", "fusee-turns", "chain-turns"} // of the winding: no instrument is put to them
	for _, of := range sessions.Findings() {
		for _, dimension := range of.Dimensions() {
			fig, ok := Step(of, dimension)
			if slices.Contains(told, dimension) {
				continue
			}
			if !ok {
				t.Errorf("%s %s has no drawing", of, dimension)
				continue
			}
			svg := mustSVG(t, fig)
			all := placed(t, svg)
			staysInside(t, fig, all)
			if len(all) != 1 || all[0].size/0.75 < 20 || !strings.HasSuffix(fig.Title, all[0].words) {
				t.Errorf("%s %s: words %v, want the dimension's name alone, 20 pixels high", of, dimension, all)
			}
			if !heads.Match(svg) || fig.Desc == "" {
				t.Errorf("%s %s: no arrow, or nothing for those who can't see it", of, dimension)
			}
			if width, _ := fig.size(); width.Points()/0.75 != 360 {
				t.Errorf("%s %s is %v wide", of, dimension, width)
			}
			name := string(of) + " " + dimension
			_, body, _ := bytes.Cut(svg, []byte("</desc>"))
			if other := seen[string(body)]; other != "" {
				t.Errorf("%s is drawn as %s", name, other)
			}
			seen[string(body)] = name
		}
	}
	for _, s := range steps() {
		if !slices.Contains(sessions.Findings(), s.of) || s.dimension != "rod" && !slices.Contains(s.of.Dimensions(), s.dimension) {
			t.Errorf("%s %s is drawn, and nothing measures it", s.of, s.dimension)
		}
	}
	if _, ok := Step(sessions.SpringFinding, "crutch"); ok {
		t.Error("a dimension that isn't known is drawn")
	}
}

// A drawing for a page turns dark with the reader's system, and each of its colours is one
// of the palette's, by name.
func TestScreen(t *testing.T) {
	bore, _ := Step(sessions.SpringFinding, "bore")
	figures := []Figure{bore}
	for _, kind := range Kinds() {
		figures = append(figures, mustDraw(t, kind, findingsExample()))
	}
	bare := regexp.MustCompile(`(?:fill|stroke)[:=]"?#[0-9A-Fa-f]+`)
	for _, fig := range figures {
		svg, err := fig.Screen()
		if err != nil {
			t.Fatal(err)
		}
		texts(t, svg) // fails where the XML is broken
		if !bytes.Contains(svg, []byte("@media (prefers-color-scheme:dark){svg{--paper:#1F2226;")) {
			t.Errorf("%s: no dark colours", fig.Kind)
		}
		if left := bare.FindAll(svg, -1); left != nil {
			t.Errorf("%s: %q stay as they are in the dark", fig.Kind, left)
		}
	}
	if _, err := (Figure{}).Screen(); err == nil {
		t.Error("a figure that wasn't drawn was encoded")
	}
}

// Words and lines stand out from the paper, light and dark: 4.5 to 1 for words, 3 to 1 for
// what is drawn, by the contrast of WCAG 2.2 (1.4.3 and 1.4.11).
func TestContrast(t *testing.T) {
	luminance := func(hex string) float64 {
		var sum float64
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			n, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
			if err != nil {
				t.Fatal(err)
			}
			v := float64(n) / 255
			if v <= 0.04045 {
				v /= 12.92
			} else {
				v = math.Pow((v+0.055)/1.055, 2.4)
			}
			sum += weight * v
		}
		return sum
	}
	contrast := func(a, b string) float64 {
		x, y := luminance(a), luminance(b)
		return (max(x, y) + 0.05) / (min(x, y) + 0.05)
	}
	least := map[string]float64{"ink": 4.5, "faded": 4.5, "steel": 4.5, "rust": 4.5, "brass": 3}
	ground := palette()[0]
	for _, s := range palette() {
		for mode, got := range map[string]float64{"light": contrast(hex(s.light), hex(ground.light)), "dark": contrast(hex(s.dark), hex(ground.dark))} {
			if got < least[s.name] {
				t.Errorf("%s on %s paper: contrast %.2f, want %g", s.name, mode, got, least[s.name])
			}
		}
	}
}

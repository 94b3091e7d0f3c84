package plots

import (
	"fmt"
	"regexp"
	"strconv"
	"testing"
	"time"

	"evenbeat/sessions"
)

// dashed is a vertical dashed line of an SVG, its ends from the top.
type dashed struct{ x, top, bottom float64 }

func dashedLines(t *testing.T, f Figure, svg []byte) []dashed {
	t.Helper()
	_, height := f.size()
	num := func(b []byte) float64 {
		v, err := strconv.ParseFloat(string(b), 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	var all []dashed
	for _, m := range regexp.MustCompile(`d="M([0-9.]+),([0-9.]+)L([0-9.]+),([0-9.]+)" style="[^"]*stroke-dasharray`).FindAllSubmatch(svg, -1) {
		if x := num(m[1]); x == num(m[3]) {
			a, b := height.Points()-num(m[2]), height.Points()-num(m[4])
			all = append(all, dashed{x, min(a, b), max(a, b)})
		}
	}
	return all
}

// TestNoLineThroughEventWords has events so close together that their words stand in
// several rows, where a line on its way up meets the words of another event.
func TestNoLineThroughEventWords(t *testing.T) {
	for _, width := range []int{0, 390} {
		for _, apart := range []time.Duration{5 * time.Hour, 11 * time.Hour, 17 * time.Hour} {
			f := findingsExample()
			f.Width = width
			start := f.Record.Checks[0].At
			f.Record.Events = nil
			kinds := []string{sessions.EventWound, sessions.EventRemark, sessions.EventOiled, sessions.EventSet}
			for i := range 9 {
				f.Record.Events = append(f.Record.Events, sessions.Event{At: start.Add(time.Duration(i+1) * apart), Kind: kinds[i%4], Text: "door left open, a draught"})
			}
			fig := mustDraw(t, "going", f)
			svg := mustSVG(t, fig)
			lines := dashedLines(t, fig, svg)
			named := map[string]bool{}
			for _, e := range f.Record.Events {
				named[eventWords(e)] = true
			}
			rows := map[string]bool{}
			for _, w := range placed(t, svg) {
				if !named[w.words] {
					continue
				}
				rows[fmt.Sprintf("%.1f", w.y)] = true
				for _, l := range lines {
					if w.x < l.x && l.x < w.x+w.width && l.top < w.y-0.1*w.size && w.y-0.7*w.size < l.bottom {
						t.Errorf("%d px, %v apart: a line at %.0f passes through %q, %.0f to %.0f", width, apart, l.x, w.words, w.x, w.x+w.width)
					}
				}
			}
			if len(rows) < 2 || len(lines) < 9 {
				t.Errorf("%d px, %v apart: %d rows of words and %d lines: nothing that could cross", width, apart, len(rows), len(lines))
			}
		}
	}
}

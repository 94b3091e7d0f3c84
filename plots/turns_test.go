package plots

import (
	"math"
	"regexp"
	"strconv"
	"testing"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// rims finds the box of a spring's intervals in a figure of turns, as it is drawn: its
// left, bottom, right and top, upwards from the foot.
var rims = regexp.MustCompile(`<path d="M([0-9.]+),([0-9.]+)L[0-9.]+,[0-9.]+L([0-9.]+),([0-9.]+)L[0-9.]+,[0-9.]+L[0-9.]+,[0-9.]+" style="fill:none;stroke:#9C3B24" />`)

// However much the spring fills and however well it is known, each curve has its name,
// and the spring's mark lies over none of them. About half full, and poorly known, it did.
func TestNoNameUnderTheSpring(t *testing.T) {
	doubts := []float64{0, 1, 3, 6, 10}
	if testing.Short() {
		doubts = []float64{1, 10}
	}
	name := regexp.MustCompile(`^[0-9.]+ (mm|thou)$`)
	for _, units := range []quantity.System{quantity.Metric, quantity.Imperial} {
		for _, fill := range []float64{0.2, 0.35, 0.44, 0.47, 0.49, 0.5, 0.51, 0.53, 0.55, 0.6, 0.65, 0.8} {
			for _, unsure := range doubts {
				const half = math.Pi * (45*45 - 15*15) / (8 * 0.4) // mm, of the strip that fills half
				r := springCase(45, 15, 0.4, 2*half*fill, spring.Fits)
				r.Length.U *= unsure
				r.Turns.U *= unsure
				fig := mustDraw(t, "turns", Findings{Spring: r, Units: units})
				svg := mustSVG(t, fig)
				rim := rims.FindSubmatch(svg)
				if rim == nil {
					t.Fatalf("filled %g, %g times as unsure: no box is drawn", fill, unsure)
				}
				var box [4]float64
				for i := range box {
					box[i], _ = strconv.ParseFloat(string(rim[i+1]), 64)
				}
				_, height := fig.size()
				names := 0
				for _, w := range placed(t, svg) {
					if !name.MatchString(w.words) {
						continue
					}
					names++
					foot := height.Points() - w.y
					left, right, top := w.x, w.x+w.width, foot+0.7*w.size // digits are so high
					crossed := left < box[2] && right > box[0] && foot < box[3] && top > box[1]
					within := left > box[0] && right < box[2] && foot > box[1] && top < box[3]
					if crossed && !within {
						t.Errorf("filled %g, %g times as unsure: %q lies under the spring's box", fill, unsure, w.words)
					}
				}
				if names != 5 {
					t.Errorf("filled %g, %g times as unsure: %d names of curves, want 5", fill, unsure, names)
				}
			}
		}
	}
}

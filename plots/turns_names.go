package plots

import (
	"math"
	"strconv"

	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// name is the thickness beside a curve.
type name struct {
	words string
	style text.Style
	at    vg.Point
	room  vg.Rectangle // that the words take
}

// names sets the thickness beside each curve, all at the same fill so that they are in line.
// That is at the top, or as near to it as leaves each clear of this spring's mark, of the
// curves and of each other.
func (v turnsView) names(c draw.Canvas, x, y func(float64) vg.Length) {
	var best []name
	least := math.MaxInt
	for _, fill := range []float64{0.5, 0.53, 0.56, 0.44, 0.59, 0.62, 0.4, 0.65, 0.37, 0.68, 0.33} {
		ns := v.namesAt(fill, x, y)
		if n := v.covered(c, ns, x, y); n < least {
			best, least = ns, n
		}
	}
	for _, n := range best {
		if inside(n.room, c.Rectangle) {
			c.FillText(n.style, n.at, n.words)
		}
	}
}

// namesAt returns the names at a fill. They are above their curves, on the side to which
// these fall.
func (v turnsView) namesAt(fill float64, x, y func(float64) vg.Length) (ns []name) {
	step := (v.thicknesses[1] - v.thicknesses[0]) / v.unit.Metres()
	decimals := max(1, 1-int(math.Floor(math.Log10(step)+1e-9)))
	if v.unit == quantity.Millimetre {
		decimals = max(2, decimals-1)
	}
	for _, t := range v.thicknesses {
		n := name{words: strconv.FormatFloat(t/v.unit.Metres(), 'f', decimals, 64) + " " + v.unit.String(),
			style: aligned(v.layout.words(steel), text.XRight, text.YBottom),
			at:    vg.Point{X: x(v.length(t, fill)) + 1, Y: y(v.turns(t, fill)) + 4}}
		if fill > 0.5 {
			n.style.XAlign = text.XLeft
			n.at.X -= 2
		}
		if t == v.strip {
			n.style = bold(n.style)
		}
		n.room = n.style.Rectangle(n.words).Add(n.at)
		ns = append(ns, n)
	}
	return ns
}

// covered counts the names that something covers, or that have no room. This spring's mark
// counts most: it hides a name, where a thin curve only crosses it.
func (v turnsView) covered(c draw.Canvas, ns []name, x, y func(float64) vg.Length) (bad int) {
	box, spot, marked := v.mark(x, y)
	for i, n := range ns {
		hidden := !inside(n.room, c.Rectangle)
		// A name inside a wide box reads as well as outside. Only its rim covers.
		if marked && (meet(n.room, grown(spot, 3)) || meet(n.room, grown(box, 2)) && !inside(n.room, grown(box, -2))) {
			bad += len(ns)
		}
		for _, other := range ns[:i] {
			hidden = hidden || meet(n.room, other.room)
		}
		for _, t := range v.thicknesses {
			path := v.path(t, x, y)
			for i, p := range path[1:] { // a piece is short, so its box will do
				q := path[i]
				hidden = hidden || meet(n.room, vg.Rectangle{Min: vg.Point{X: min(p.X, q.X), Y: min(p.Y, q.Y)}, Max: vg.Point{X: max(p.X, q.X), Y: max(p.Y, q.Y)}})
			}
		}
		if hidden {
			bad++
		}
	}
	return bad
}

// inside reports whether a is inside b.
func inside(a, b vg.Rectangle) bool {
	return a.Min.X >= b.Min.X && a.Min.Y >= b.Min.Y && a.Max.X <= b.Max.X && a.Max.Y <= b.Max.Y
}

// meet reports whether two rectangles overlap.
func meet(a, b vg.Rectangle) bool {
	return a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y
}

// grown returns a rectangle that is larger by so much on each side.
func grown(r vg.Rectangle, by vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: r.Min.X - by, Y: r.Min.Y - by}, Max: vg.Point{X: r.Max.X + by, Y: r.Max.Y + by}}
}

package plots

import (
	"fmt"
	"math"
	"strings"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// barrelView is what the figure is drawn from, in metres: the barrel's two
// circles, and how far the coil reaches when wound and when run down.
type barrelView struct {
	bore, arbor, strip float64 // strip 0: not known
	wound, rundown     float64
	half               float64 // the circle that halves the room
	ideal              bool    // the coil is that of the ideal length, for want of the spring's own
}

// drawBarrel answers: how does this spring lie in its barrel? It shows the barrel
// in cross-section to scale, with the spring wound on the left and run down on the
// right. A circle halves the room between arbor and wall: a strip that fills half of it
// just reaches that circle both ways. Diameters are in the chosen units, with their 95 %
// intervals.
func drawBarrel(f Findings) (Figure, error) {
	if f.Spring == nil || !told(f.Spring.Bore) || !told(f.Spring.Arbor) {
		return empty("the barrel needs a bore and an arbor",
			"Measure them with evenbeat measure --plan mainspring, or give them to evenbeat spring --bore … --arbor …."), nil
	}
	r := *f.Spring
	v, err := viewBarrel(r)
	if err != nil {
		return Figure{}, err
	}
	fig := Figure{
		Title:  springTitle(r),
		Note:   barrelNote(r, v),
		Desc:   barrelDesc(r, v, f.Units),
		height: 359,
	}
	if f.Units == quantity.Both {
		fig.height += 22
	}
	fig.draw = func(c draw.Canvas) { paintBarrel(c, r, v, f.Units) }
	return fig, nil
}

// thinnestStrip, in metres, is thinner than any strip that is rolled. Thinner coils could
// neither be counted nor drawn.
const thinnestStrip = 1e-6

// viewBarrel works out what is drawn. A result without a strip lacks the diameter of the
// circle that halves the room, √((D² + d²)/2), which is computed only for the drawing.
func viewBarrel(r spring.Result) (barrelView, error) {
	v := barrelView{bore: r.Bore.V, arbor: r.Arbor.V}
	if !(v.arbor > 0 && v.bore > v.arbor) {
		return v, fmt.Errorf("bore %g m, arbor %g m: the bore must be larger than the arbor", v.bore, v.arbor)
	}
	if told(r.Strip) && r.Strip.V > thinnestStrip && r.Strip.V < (v.bore-v.arbor)/2 {
		v.strip = r.Strip.V
	}
	v.half = r.HalfCircle
	if !(v.half > v.arbor && v.half < v.bore) {
		v.half = math.Sqrt((v.bore*v.bore + v.arbor*v.arbor) / 2)
	}
	v.wound, v.rundown, v.ideal = v.half, v.half, true
	if told(r.Wound) && told(r.Rundown) {
		v.wound, v.rundown, v.ideal = r.Wound.V, r.Rundown.V, false
	}
	// A strip longer than the room is drawn as filling it: the title says the rest.
	v.wound = min(max(v.wound, v.arbor), v.bore)
	v.rundown = min(max(v.rundown, v.arbor), v.bore)
	return v, nil
}

// springTitle gives the verdict in words, with the turns if they are known.
func springTitle(r spring.Result) string {
	if !told(r.Turns) || !told(r.TurnsBest) {
		return r.Whole.Says
	}
	return fmt.Sprintf("%s. It gives %s of %s possible turns", r.Whole.Says,
		strings.TrimSuffix(r.Turns.Text("turns"), " turns"), r.TurnsBest.Plain("turns"))
}

// springCaution is in each figure of a spring, since one may be printed and lie on the
// bench by itself.
const springCaution = "Let the spring down fully before the barrel is opened, and never hold it by hand alone."

func barrelNote(r spring.Result, v barrelView) string {
	var s []string
	if told(r.Fill) {
		s = append(s, "The strip fills "+r.Fill.Scale(100).Text("%")+" of the space; half is ideal.")
	}
	if v.ideal {
		s = append(s, "The coil is drawn as the ideal length would lie.")
	}
	return strings.Join(append(s, "± is the 95 % interval. Bore, arbor and coil are to scale.", springCaution), " ")
}

func barrelDesc(r spring.Result, v barrelView, u quantity.System) string {
	s := fmt.Sprintf("Cross-section of a mainspring barrel, bore %s, arbor %s. ", u.Length(*r.Bore), u.Length(*r.Arbor))
	if v.ideal {
		return s + "The coil is drawn as a strip of the ideal length would lie, out to the circle that halves the room, on either side."
	}
	return s + fmt.Sprintf("Left, the coil wound on the arbor out to %s. Right, run down against the wall, in to %s. "+
		"A broken circle halves the room between.", u.Length(*r.Wound), u.Length(*r.Rundown))
}

// paintBarrel draws the two sections side by side above the block of values.
func paintBarrel(c draw.Canvas, r spring.Result, v barrelView, u quantity.System) {
	const radius = 92 // of the barrel outside its wall, points
	quarter := (c.Max.X - c.Min.X) / 4
	y := c.Max.Y - 16 - radius
	left, right := vg.Point{X: c.Min.X + quarter - 8, Y: y}, vg.Point{X: c.Max.X - quarter + 8, Y: y}
	name := aligned(bold(letters(noteSize, ink)), text.XCenter, text.YTop)
	c.FillText(name, vg.Point{X: left.X, Y: c.Max.Y}, "Wound")
	c.FillText(name, vg.Point{X: right.X, Y: c.Max.Y}, "Run down")

	wall := vg.Length(radius) * 0.06
	s := section{c: c, v: v, scale: (radius - wall) / vg.Length(v.bore/2), wall: wall}
	s.paint(left, true)
	s.paint(right, false)
	s.nameHalf(left, right)

	first, second := y-radius-14, y-radius-31
	if u == quantity.Both {
		second -= 9
	}
	// Later dimensions cover what they cross, so the wider ones come first.
	s.dimension(right, v.bore, v.bore, second, "bore "+u.Length(*r.Bore))
	if !v.ideal {
		s.dimension(left, v.wound, v.wound, second, "coil outside Ø "+u.Length(*r.Wound))
		s.dimension(right, v.rundown, v.bore, first, "coil inside Ø "+u.Length(*r.Rundown))
	}
	outermost := v.wound
	if v.ideal {
		outermost = v.arbor
	}
	s.dimension(left, v.arbor, outermost, first, "arbor "+u.Length(*r.Arbor))
	valueBlock(draw.Crop(c, 0, 0, 0, second-20-c.Max.Y), springValues(r, u))
}

// springValues are the values that have no place in the drawing.
func springValues(r spring.Result, u quantity.System) [][2]string {
	length := func(v *quantity.Value) string {
		if !told(v) {
			return "not known"
		}
		return u.Length(*v)
	}
	plain := func(v *quantity.Value) string {
		if !told(v) {
			return "not known"
		}
		return v.Text("")
	}
	last := [2]string{"turns", plain(r.Turns)}
	if g := r.GoingHours; g != nil && told(&g.Value) {
		last = [2]string{"goes, from full wind", g.Text("h")}
	}
	return [][2]string{
		{"strip's thickness", length(r.Strip)},
		{"length", length(r.Length)},
		{"ideal length", length(r.IdealLength)},
		last,
	}
}

// valueBlock sets names above values in columns, under a rule. Inches after millimetres
// get a line of their own.
func valueBlock(c draw.Canvas, values [][2]string) {
	c.StrokeLine2(line(rule, 0.7), c.Min.X, c.Max.Y, c.Max.X, c.Max.Y)
	width := (c.Max.X - c.Min.X) / vg.Length(len(values))
	for i, v := range values {
		x := c.Min.X + vg.Length(i)*width
		c.FillText(aligned(letters(wordSize, faded), text.XLeft, text.YTop), vg.Point{X: x, Y: c.Max.Y - 7}, v[0])
		first, second, both := strings.Cut(v[1], " (")
		style := aligned(letters(noteSize+0.5, ink), text.XLeft, text.YTop)
		c.FillText(style, vg.Point{X: x, Y: c.Max.Y - 18}, first)
		if both {
			c.FillText(style, vg.Point{X: x, Y: c.Max.Y - 29}, strings.TrimSuffix(second, ")"))
		}
	}
}

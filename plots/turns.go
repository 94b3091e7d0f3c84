package plots

import (
	"fmt"
	"math"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// turnsView is what the figure is drawn from, with sizes in metres.
type turnsView struct {
	bore, arbor, strip float64
	thicknesses        []float64
	unit               quantity.Unit // of thickness
	along              quantity.Unit // of length
	p                  *axes
	layout             layout
	r                  spring.Result
}

// drawTurns answers: how many turns would this barrel give with other strip, and where is
// this spring among them? It shows turns over length of strip (in millimetres or inches), with a
// curve for each of a few thicknesses. The fill is the same along a straight line from the
// origin, so the shaded wedge holds the fills that fit. The box is this spring with its 95 %
// intervals. The crosses are ideal lengths.
func drawTurns(f Findings) (Figure, error) {
	if f.Spring == nil || !told(f.Spring.Bore) || !told(f.Spring.Arbor) || !told(f.Spring.Strip) {
		return empty("the curve of turns needs bore, arbor and strip",
			"Measure them with evenbeat measure --plan mainspring, or give them to evenbeat spring --bore … --arbor … --strip …."), nil
	}
	r := *f.Spring
	v := turnsView{bore: r.Bore.V, arbor: r.Arbor.V, strip: r.Strip.V, r: r, p: f.layout().axes(), layout: f.layout(),
		unit: quantity.Millimetre, along: quantity.Millimetre}
	if f.Units == quantity.Imperial {
		v.unit, v.along = quantity.Thou, quantity.Inch
	}
	if !(v.arbor > 0 && v.bore > v.arbor && v.strip > thinnestStrip && v.strip < (v.bore-v.arbor)/2) {
		return Figure{}, fmt.Errorf("bore %g m, arbor %g m, strip %g m: the bore must be larger than the arbor, and the strip must go between them",
			v.bore, v.arbor, v.strip)
	}
	v.thicknesses = neighbours(v.strip, v.unit.Metres())
	v.frame()
	pan := panel{heading: "Turns of the barrel, by length of strip", height: v.layout.choose(220, 240), plot: v.p, axis: "length of strip, " + v.along.String(),
		key: []mark{{shape{form: ring, color: rust, size: 2.4}, "ideal length"}}}
	if v.limited() {
		words := fmt.Sprintf("fits: filled %.2f to %.2f", r.FillLow, r.FillHigh)
		pan.key = append([]mark{{shape{form: square, color: wash}, words}}, pan.key...)
	}
	if told(r.Turns) && told(r.Length) {
		pan.key = append(pan.key, mark{shape{form: dot, color: rust, size: 2.4}, "this spring, 95 %"})
	}
	all := panels{v.layout, []panel{pan}}
	return Figure{
		Title: springTitle(r),
		Note: "Each curve is a thickness of strip in " + v.unit.String() + ", the thick one this spring's. " +
			"Coils lie close, without allowance for practical losses. " + springCaution,
		Desc: fmt.Sprintf("Turns over length of strip for %d thicknesses about %s. %s.", len(v.thicknesses),
			f.Units.Length(*r.Strip), springTitle(r)),
		height: all.height(),
		draw:   all.draw,
	}, nil
}

// neighbours returns the strip's thickness with two thinner and two thicker ones,
// in round steps of about a tenth of it.
func neighbours(strip, unit float64) []float64 {
	step := strip / unit / 10
	power := math.Pow(10, math.Floor(math.Log10(step)))
	switch m := step / power; {
	case m >= 5:
		step = 5 * power
	case m >= 2:
		step = 2 * power
	default:
		step = power
	}
	var ts []float64
	for i := -2; i <= 2; i++ {
		ts = append(ts, strip+float64(i)*step*unit)
	}
	return ts
}

// turns returns how many turns strip of thickness t gives if it fills so much of the room.
func (v turnsView) turns(t, fill float64) float64 {
	b := spring.Barrel{Bore: v.bore, Arbor: v.arbor, Strip: t}
	return b.Turns(fill * b.Space() / t)
}

// length returns the length of strip of thickness t that fills so much of the room, in the
// unit of the axis.
func (v turnsView) length(t, fill float64) float64 {
	b := spring.Barrel{Bore: v.bore, Arbor: v.arbor, Strip: t}
	return fill * b.Space() / t / v.along.Metres()
}

// fills returns the least and the greatest fill of each curve as drawn: a range wide enough
// to show how flat the curve is at the top, and to hold this spring.
func (v turnsView) fills() (least, most float64) {
	least, most = 0.28, 0.78
	if told(v.r.Fill) {
		least, most = min(least, max(0.02, v.r.Fill.V*0.9)), max(most, min(0.99, v.r.Fill.V*1.03))
	}
	return least, most
}

func (v turnsView) frame() {
	leastFill, _ := v.fills()
	thin, thick := v.thicknesses[0], v.thicknesses[len(v.thicknesses)-1]
	xs := []float64{v.length(thick, leastFill), v.length(thin, 0.66)}
	ys := []float64{v.turns(thick, leastFill), v.turns(thin, 0.5) * 1.04}
	if told(v.r.Length) {
		l := v.r.Length.Scale(1 / v.along.Metres())
		xs = append(xs, l.Low95(), l.High95())
	}
	if told(v.r.Turns) {
		ys = append(ys, max(0, v.r.Turns.Low95()), v.r.Turns.High95())
	}
	v.p.x.span(1, xs...)
	v.p.y.span(0.1, ys...)
	v.p.add(drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		v.wedge(c, x, y)
		grid(v.p)(c, x, y)
		for _, t := range v.thicknesses {
			v.curve(c, t, x, y)
		}
		v.thisSpring(c, x, y)
		v.names(c, x, y)
	}))
}

// limited reports whether the result says which fills fit.
func (v turnsView) limited() bool {
	return v.r.FillLow > 0 && v.r.FillHigh > v.r.FillLow && v.r.FillHigh < 1
}

// wedge shades the fills that fit, and draws the line of half.
func (v turnsView) wedge(c draw.Canvas, x, y func(float64) vg.Length) {
	ray := func(fill float64) (out []vg.Point) {
		for _, t := range []float64{v.strip / 40, v.strip * 40} {
			out = append(out, vg.Point{X: x(v.length(t, fill)), Y: y(v.turns(t, fill))})
		}
		return out
	}
	if v.limited() {
		from, to := ray(v.r.FillLow), ray(v.r.FillHigh)
		c.FillPolygon(wash, c.ClipPolygonXY([]vg.Point{from[0], from[1], to[1], to[0], from[0]}))
	}
	c.StrokeLines(line(faded, 0.6, 4, 3), c.ClipLinesXY(ray(0.5))...)
}

// path returns a curve's points on the canvas.
func (v turnsView) path(t float64, x, y func(float64) vg.Length) (path []vg.Point) {
	leastFill, mostFill := v.fills()
	const pieces = 90
	for i := range pieces + 1 {
		fill := leastFill + (mostFill-leastFill)*float64(i)/pieces
		path = append(path, vg.Point{X: x(v.length(t, fill)), Y: y(v.turns(t, fill))})
	}
	return path
}

func (v turnsView) curve(c draw.Canvas, t float64, x, y func(float64) vg.Length) {
	style := line(steel, 0.8)
	if t == v.strip {
		style.Width = 1.9
	}
	c.StrokeLines(style, c.ClipLinesXY(v.path(t, x, y))...)
	if top := (vg.Point{X: x(v.length(t, 0.5)), Y: y(v.turns(t, 0.5))}); c.Contains(top) {
		shape{form: ring, color: rust, size: 2.4}.at(c, top, 0)
	}
}

// mark returns the box of the spring's intervals and its place in it, on the canvas.
func (v turnsView) mark(x, y func(float64) vg.Length) (box, spot vg.Rectangle, ok bool) {
	if !told(v.r.Length) || !told(v.r.Turns) {
		return box, spot, false
	}
	l, n := v.r.Length.Scale(1/v.along.Metres()), *v.r.Turns
	at := vg.Point{X: x(l.V), Y: y(n.V)}
	return vg.Rectangle{Min: vg.Point{X: x(l.Low95()), Y: y(n.Low95())}, Max: vg.Point{X: x(l.High95()), Y: y(n.High95())}},
		vg.Rectangle{Min: at, Max: at}, true
}

// thisSpring draws the mark.
func (v turnsView) thisSpring(c draw.Canvas, x, y func(float64) vg.Length) {
	b, spot, ok := v.mark(x, y)
	if !ok {
		return
	}
	rim := []vg.Point{b.Min, {X: b.Max.X, Y: b.Min.Y}, b.Max, {X: b.Min.X, Y: b.Max.Y}, b.Min}
	c.StrokeLines(line(rust, 1), c.ClipLinesXY(rim)...)
	shape{form: dot, color: rust, size: 2.4}.at(c, spot.Min, 0)
}

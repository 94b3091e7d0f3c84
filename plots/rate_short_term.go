package plots

import (
	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var (
	windowShape = shape{form: level, color: steel, size: 1.4}
	wholeShape  = shape{form: bar, color: brass, size: 1.2}
)

// shortWindows returns the windows that can be drawn. It returns none for a single one,
// which says no more than the rate.
func shortWindows(r beat.Result) (ws []beat.Short) {
	for _, w := range r.ShortTerm {
		if sound(w.TimeS) && sound(w.SpanS) && certain(w.Rate) {
			ws = append(ws, w)
		}
	}
	if len(ws) < 2 {
		return nil
	}
	return ws
}

// shortPanel shows how the rate varied, in s/day. Each window of whole turns of the escape
// wheel has a level line as long as the window, with its 95 % interval. Across them all
// runs the rate of the whole run. Time is in units of so many seconds.
func (l layout) shortPanel(r beat.Result, ws []beat.Short, size float64, breaks []float64) panel {
	p := l.axes()
	p.y.ticks = evenTicks{aim: 4, sign: true}
	var ys []float64
	for _, w := range ws {
		ys = append(ys, w.Rate.Low95(), w.Rate.High95())
	}
	whole := r.Rate.V
	p.y.span(0.1, append(ys, whole)...)
	p.add(grid(p), drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		breakLines(c, breaks, x)
		if sound(whole) {
			c.StrokeLine2(line(brass, wholeShape.size), c.Min.X, y(whole), c.Max.X, y(whole))
		}
		for _, w := range ws {
			at := vg.Point{X: x(w.TimeS / size), Y: y(w.Rate.V)}
			half := w.SpanS / size / 2
			c.StrokeLine2(line(steel, windowShape.size), x(w.TimeS/size-half), at.Y, x(w.TimeS/size+half), at.Y)
			if w.Rate.U > 0 {
				interval(c, steel, at.X, y(w.Rate.Low95()), y(w.Rate.High95()))
			}
		}
	}))
	return panel{heading: "Rate over windows of " + quantity.SpanText(ws[0].SpanS) + ", s/day (+ = gains)", height: l.choose(90, 120), plot: p,
		key: []mark{{windowShape, "window, 95 %"}, {wholeShape, "whole run"}}}
}

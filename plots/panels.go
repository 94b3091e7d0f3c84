package plots

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// panel is one plot of a figure. A heading above it, in place of a label along its side,
// names what is shown and its unit.
type panel struct {
	heading string
	key     []mark    // what the marks mean, at the right of the heading
	lane    vg.Length // room for words between heading and plot
	right   vg.Length // room for words at the right of the plot
	share   float64   // of the height that the panels divide among them
	plot    *plot.Plot
}

// mark is an entry of a key.
type mark struct {
	shape shape
	words string
}

const headingHeight = 15

// stack draws panels one above the other, with their data areas aligned.
func stack(c draw.Canvas, panels ...panel) {
	var whole float64
	for _, p := range panels {
		whole += p.share
	}
	const gap = 8
	left := c.Max.Y - c.Min.Y - vg.Length(len(panels)-1)*gap
	top := c.Max.Y
	var areas []draw.Canvas
	lowest, highest := vg.Length(math.Inf(-1)), vg.Length(math.Inf(1))
	for _, p := range panels {
		h := left * vg.Length(p.share/whole)
		area := draw.Crop(c, 0, 0, top-h-c.Min.Y, top-c.Max.Y)
		heading(area, p)
		area.Max.Y -= headingHeight + p.lane
		area.Max.X -= p.right
		areas = append(areas, area)
		data := p.plot.DataCanvas(area)
		lowest, highest = max(lowest, data.Min.X), min(highest, data.Max.X)
		top -= h + gap
	}
	for i, p := range panels {
		data := p.plot.DataCanvas(areas[i])
		p.plot.Draw(draw.Crop(areas[i], lowest-data.Min.X, highest-data.Max.X, 0, 0))
	}
}

func heading(c draw.Canvas, p panel) {
	s := aligned(bold(letters(noteSize, ink)), text.XLeft, text.YTop)
	c.FillText(s, vg.Point{X: c.Min.X, Y: c.Max.Y}, p.heading)
	s = aligned(letters(wordSize, ink), text.XRight, text.YTop)
	x := c.Max.X
	for i := len(p.key) - 1; i >= 0; i-- {
		c.FillText(s, vg.Point{X: x, Y: c.Max.Y}, p.key[i].words)
		x -= s.Width(p.key[i].words) + 7
		p.key[i].shape.at(c, vg.Point{X: x, Y: c.Max.Y - 4.5}, 0)
		x -= 14
	}
}

// drawing lets a function draw in a plot's data area. x and y turn data into places on the
// canvas.
type drawing func(c draw.Canvas, x, y func(float64) vg.Length)

// Plot implements plot.Plotter.
func (d drawing) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	d(c, x, y)
}

// grid draws a faint line across at each labelled tick of the vertical axis.
func grid(p *plot.Plot) drawing {
	return func(c draw.Canvas, _, y func(float64) vg.Length) {
		for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
			if t.Label != "" && t.Value >= p.Y.Min && t.Value <= p.Y.Max {
				c.StrokeLine2(line(rule, 0.5), c.Min.X, y(t.Value), c.Max.X, y(t.Value))
			}
		}
	}
}

// span gives an axis a range that holds all values, with a little air. For one value or
// none it still gives a range whose ends differ in float64, or gonum/plot would panic.
// least is the smallest range worth drawing.
func span(a *plot.Axis, least float64, values ...float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if sound(v) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	if lo > hi {
		lo, hi = 0, 0
	}
	least = max(least, 1e-6*max(math.Abs(lo), math.Abs(hi)))
	if short := least - (hi - lo); short > 0 {
		lo, hi = lo-short/2, hi+short/2
	}
	air := (hi - lo) * 0.05
	a.Min, a.Max = lo-air, hi+air
}

// logSpan is span for a logarithmic axis. It holds the positive values, and half a decade
// at least.
func logSpan(a *plot.Axis, values ...float64) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if v > 0 && v < beyond {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	if lo > hi {
		lo, hi = 1, 1
	}
	const air = 1.25
	if hi/lo < 2 {
		lo, hi = lo/1.5, hi*1.5
	}
	a.Min, a.Max = lo/air, hi*air
	a.Scale = plot.LogScale{}
	a.Tick.Marker = decadeTicks{}
}

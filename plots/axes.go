package plots

import (
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// axes are a drawing's level axis, with a line, and its upright one, without; drawings fill
// the data area between them. The module's own plot, of which this is a small part, reads
// twelve typefaces whenever the program starts, whether it draws or not: 2 MB of memory.
type axes struct {
	x, y     axis
	labels   text.Style // of the ticks
	drawings []drawing
}

// axis is a range of values, and where its ticks are.
type axis struct {
	min, max    float64
	logarithmic bool
	ticks       ticker
}

// ticker puts ticks on the range of an axis.
type ticker interface {
	Ticks(lo, hi float64) []tick
}

// noTicks are for an axis without any.
type noTicks struct{}

func (noTicks) Ticks(_, _ float64) []tick { return nil }

// tick is a place on an axis. Without a label it is a small mark.
type tick struct {
	value float64
	label string
}

// Room in points: from the ends of the ticks to the data, and from the labels at the side.
const (
	tickLength   = 3
	beforeData   = 4.3
	besideLabels = 3
	besideData   = 4
)

func (l layout) axes() *axes {
	labels := letters(l.word, ink)
	return &axes{x: axis{ticks: evenTicks{}}, y: axis{ticks: evenTicks{}}, labels: labels}
}

func (p *axes) add(d ...drawing) { p.drawings = append(p.drawings, d...) }

// part is how far along the axis a value lies: 0 at its beginning, 1 at its end.
func (a axis) part(v float64) float64 {
	lo, hi := a.min, a.max
	if a.logarithmic {
		lo, hi, v = math.Log(lo), math.Log(hi), math.Log(v)
	}
	return (v - lo) / (hi - lo)
}

// labelled are the ticks that have a label.
func (a axis) labelled() []tick {
	var all []tick
	for _, t := range a.ticks.Ticks(a.min, a.max) {
		if t.label != "" {
			all = append(all, t)
		}
	}
	return all
}

// places turn data into places on the canvas of the data area.
func (p *axes) places(c draw.Canvas) (x, y func(float64) vg.Length) {
	return func(v float64) vg.Length { return c.X(p.x.part(v)) }, func(v float64) vg.Length { return c.Y(p.y.part(v)) }
}

// labelSize is the size of the largest label of an axis.
func (p *axes) labelSize(a axis) (size vg.Point) {
	for _, t := range a.labelled() {
		of := p.labels.Rectangle(t.label).Size()
		size.X, size.Y = max(size.X, of.X), max(size.Y, of.Y)
	}
	return size
}

// data is the part of a canvas that is left for the data. It ends where the last labels, which
// stand about the ends of the axes, still have room.
func (p *axes) data(c draw.Canvas) draw.Canvas {
	left, below := vg.Length(besideData), p.labelSize(p.x).Y+tickLength+beforeData
	if w := p.labelSize(p.y).X; w > 0 {
		left += w + besideLabels
	}
	c = draw.Crop(c, left, 0, below, 0)
	c.Max.X = roomFor(c.Min.X, c.Max.X, p.x, func(t tick) vg.Length { return p.labels.Width(t.label) / 2 })
	c.Max.Y = roomFor(c.Min.Y, c.Max.Y, p.y, func(t tick) vg.Length { return p.labels.Height(t.label) / 2 })
	return c
}

// roomFor returns the end for an axis from lo on, so that no label's half goes beyond hi.
func roomFor(lo, hi vg.Length, a axis, half func(tick) vg.Length) vg.Length {
	end := hi
	for _, t := range a.labelled() {
		if part := vg.Length(a.part(t.value)); part > 0 && part <= 1 {
			end = min(end, lo+(hi-half(t)-lo)/part)
		}
	}
	return end
}

// draw draws the axes, and the drawings in their data area.
func (p *axes) draw(c draw.Canvas) {
	data := p.data(c)
	x, y := p.places(data)
	descent := p.labels.FontExtents().Descent
	high := p.labelSize(p.x).Y
	level, style := c.Min.Y+high, aligned(p.labels, text.XCenter, text.YTop)
	for _, t := range p.x.ticks.Ticks(p.x.min, p.x.max) {
		at, long := x(t.value), vg.Length(tickLength)
		if !data.ContainsX(at) {
			continue
		}
		if t.label == "" {
			long /= 2
		}
		c.FillText(style, vg.Point{X: at, Y: level + descent}, t.label)
		c.StrokeLine2(line(faded, 0.5), at, level+tickLength-long, at, level+tickLength)
	}
	c.StrokeLine2(line(faded, 0.6), data.Min.X, level+tickLength, data.Max.X, level+tickLength)
	style = aligned(p.labels, text.XRight, text.YCenter)
	right := c.Min.X + p.labelSize(p.y).X
	for _, t := range p.y.labelled() {
		if at := y(t.value); data.ContainsY(at) {
			c.FillText(style, vg.Point{X: right, Y: at + descent}, t.label)
		}
	}
	for _, d := range p.drawings {
		d(data, x, y)
	}
}

// drawing lets a function draw in a data area. x and y turn data into places on the canvas.
type drawing func(c draw.Canvas, x, y func(float64) vg.Length)

// grid draws a faint line across at each labelled tick of the vertical axis.
func grid(p *axes) drawing {
	return func(c draw.Canvas, _, y func(float64) vg.Length) {
		for _, t := range p.y.labelled() {
			if t.value >= p.y.min && t.value <= p.y.max {
				c.StrokeLine2(line(rule, 0.5), c.Min.X, y(t.value), c.Max.X, y(t.value))
			}
		}
	}
}

// span gives the axis a range that holds all values, with a little air. For one value or
// none it still gives a range whose ends differ in float64. least is the smallest range
// worth drawing.
func (a *axis) span(least float64, values ...float64) {
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
	a.min, a.max = lo-air, hi+air
}

// logSpan is span for a logarithmic axis. It holds the positive values, and half a decade
// at least.
func (a *axis) logSpan(values ...float64) {
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
	a.min, a.max, a.logarithmic = lo/air, hi*air, true
	a.ticks = decadeTicks{}
}

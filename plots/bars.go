package plots

import (
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// barRow is a bar from nothing to a value, with its words above it.
type barRow struct {
	words  string
	v      quantity.Value // not drawn where it is no number
	filled bool           // else hollow
}

// bars is a panel of level bars with their 95 % intervals, the first at the top.
func (l layout) bars(heading, axis string, rows []barRow) panel {
	p := l.axes()
	ends := []float64{0}
	for _, r := range rows {
		if certain(r.v) {
			ends = append(ends, r.v.High95())
		}
	}
	p.x.span(0.02, ends...)
	p.x.min = 0
	p.y.min, p.y.max = -float64(len(rows)), 0
	p.y.ticks = noTicks{}
	style := aligned(l.words(ink), text.XLeft, text.YTop)
	row := 2.7 * style.Font.Size
	p.add(drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		for i, r := range rows {
			top := y(-float64(i))
			c.FillText(style, vg.Point{X: c.Min.X, Y: top}, printable(r.words))
			if certain(r.v) {
				r.draw(c, x, top-style.Font.Size*1.25-4)
			}
		}
	}))
	axisRoom := 2.2 * style.Font.Size
	return panel{heading: heading, height: row*vg.Length(len(rows)) + axisRoom, plot: p, axis: axis}
}

// draw draws the bar about the level y.
func (r barRow) draw(c draw.Canvas, x func(float64) vg.Length, y vg.Length) {
	const half = 4
	end := x(max(0, r.v.V))
	path := polygon(vg.Point{X: x(0), Y: y - half}, vg.Point{X: end, Y: y - half},
		vg.Point{X: end, Y: y + half}, vg.Point{X: x(0), Y: y + half})
	if r.filled {
		c.SetColor(steel)
		c.Fill(path)
	}
	c.SetLineStyle(line(ink, 0.7))
	c.Stroke(path)
	if r.v.U > 0 {
		from, to := x(max(0, r.v.Low95())), x(r.v.High95())
		c.StrokeLine2(line(paper, 2.4), from-0.8, y, to, y)
		c.StrokeLine2(line(ink, 0.8), from, y, to, y)
		c.StrokeLine2(line(ink, 0.8), from, y-2.5, from, y+2.5)
		c.StrokeLine2(line(ink, 0.8), to, y-2.5, to, y+2.5)
	}
}

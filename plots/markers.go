package plots

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// shape is how a point is marked. Shapes that differ in colour also differ in form.
type shape struct {
	form  form
	color color.Color
	size  float64 // radius in points
}

type form uint8

const (
	dot form = iota
	ring
	diamond
	bar     // a short line across: the key of a line
	square  // the key of a filled area
	upright // a dot with its bar of uncertainty
	level   // a line across with its bar of uncertainty
	stem    // an upright line
)

// at draws the shape. half is the half-height of an upright's bar, 0 for that of the key.
func (s shape) at(c draw.Canvas, p vg.Point, half vg.Length) {
	r := vg.Points(s.size)
	c.SetColor(s.color)
	switch s.form {
	case dot:
		c.Fill(circle(p, r))
	case ring:
		c.SetColor(paper)
		c.Fill(circle(p, r))
		c.SetLineStyle(line(s.color, 0.9))
		c.Stroke(circle(p, r))
	case diamond:
		path := polygon(vg.Point{X: p.X, Y: p.Y + r}, vg.Point{X: p.X + r, Y: p.Y},
			vg.Point{X: p.X, Y: p.Y - r}, vg.Point{X: p.X - r, Y: p.Y})
		c.SetColor(paper)
		c.Fill(path)
		c.SetLineStyle(line(s.color, 0.9))
		c.Stroke(path)
	case bar:
		c.StrokeLine2(line(s.color, s.size), p.X-6, p.Y, p.X+4, p.Y)
	case square:
		c.Fill(polygon(vg.Point{X: p.X - 4, Y: p.Y - 3}, vg.Point{X: p.X + 4, Y: p.Y - 3},
			vg.Point{X: p.X + 4, Y: p.Y + 3}, vg.Point{X: p.X - 4, Y: p.Y + 3}))
	case stem:
		c.StrokeLine2(line(s.color, 0.7), p.X, p.Y-5, p.X, p.Y+5)
	case level:
		c.StrokeLine2(line(s.color, s.size), p.X-6, p.Y, p.X+4, p.Y)
		interval(c, s.color, p.X-1, p.Y-4, p.Y+4)
	case upright:
		if half == 0 {
			half = 4
		}
		interval(c, s.color, p.X, p.Y-half, p.Y+half)
		c.SetColor(s.color)
		c.Fill(circle(p, r))
	}
}

// interval draws a vertical bar of uncertainty with short ends, cut off at the canvas.
func interval(c draw.Canvas, col color.Color, x, from, to vg.Length) {
	s := line(col, 0.8)
	c.StrokeLine2(s, x, from, x, to)
	c.StrokeLine2(s, x-2, from, x+2, from)
	c.StrokeLine2(s, x-2, to, x+2, to)
}

// circle returns a circle of four cubic curves, since gonum/plot's arcs come out wrong in
// a PDF when filled. The constant puts the middle of each quarter on the circle.
func circle(p vg.Point, r vg.Length) vg.Path {
	k := r * vg.Length(4*(math.Sqrt2-1)/3)
	at := func(x, y vg.Length) vg.Point { return vg.Point{X: p.X + x, Y: p.Y + y} }
	var path vg.Path
	path.Move(at(r, 0))
	path.CubeTo(at(r, k), at(k, r), at(0, r))
	path.CubeTo(at(-k, r), at(-r, k), at(-r, 0))
	path.CubeTo(at(-r, -k), at(-k, -r), at(0, -r))
	path.CubeTo(at(k, -r), at(r, -k), at(r, 0))
	path.Close()
	return path
}

func polygon(points ...vg.Point) vg.Path {
	var path vg.Path
	for i, p := range points {
		if i == 0 {
			path.Move(p)
			continue
		}
		path.Line(p)
	}
	path.Close()
	return path
}

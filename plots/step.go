package plots

import (
	"math"

	"evenbeat/sessions"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Step returns the drawing of how to take one dimension of a finding: the part, the caliper
// on it, and the dimension marked. It is false for a dimension that has no drawing, such as
// one of a user's own. The names are those of sessions.Finding. The drawing is for a page,
// as Screen gives it: lines and letters are heavy enough to be read across a bench.
func Step(of sessions.Finding, dimension string) (Figure, bool) {
	for _, s := range steps() {
		if s.of != of || s.dimension != dimension {
			continue
		}
		return Figure{
			Kind: "step", id: "step-" + dimension, layout: onStep, bare: true, height: stepHeight,
			Title: "How to measure: " + s.label, Desc: s.desc,
			draw: func(c draw.Canvas) {
				p := pen{c: c, at: c.Min, label: s.label}
				s.draw(p)
			},
		}, true
	}
	return Figure{}, false
}

// step is the drawing of a dimension.
type step struct {
	of        sessions.Finding
	dimension string
	label     string // beside the mark
	desc      string // what one would see
	draw      func(p pen)
}

// steps is the table of all drawings: a new one is one line.
func steps() []step {
	return append(springSteps(), partSteps()...)
}

// A step's drawing is 360 CSS pixels wide, 270 points; the places below are on it, from the
// lower left, within the margin.
const (
	stepWidth  = 270
	stepHeight = 186
	stepMiddle = (stepWidth - 2*margin) / 2
)

var onStep = layout{width: stepWidth, title: 18, note: 18, word: 18, narrow: true}

// pen draws on a step's canvas.
type pen struct {
	c     draw.Canvas
	at    vg.Point // the lower left
	label string
}

// p returns a place on the canvas.
func (p pen) p(x, y vg.Length) vg.Point { return vg.Point{X: p.at.X + x, Y: p.at.Y + y} }

func (p pen) path(points ...vg.Point) vg.Path {
	placed := make([]vg.Point, len(points))
	for i, q := range points {
		placed[i] = p.p(q.X, q.Y)
	}
	return polygon(placed...)
}

// solid draws a part: cut metal with a heavy outline.
func (p pen) solid(path vg.Path) {
	p.c.SetColor(metal)
	p.c.Fill(path)
	p.outline(path)
}

// hollow draws a hole, or a part that only stands behind.
func (p pen) hollow(path vg.Path) {
	p.c.SetColor(paper)
	p.c.Fill(path)
	p.outline(path)
}

func (p pen) outline(path vg.Path) {
	p.c.SetLineStyle(line(ink, 1.4))
	p.c.Stroke(path)
}

// box returns a rectangle.
func (p pen) box(left, bottom, right, top vg.Length) vg.Path {
	return p.path(vg.Point{X: left, Y: bottom}, vg.Point{X: right, Y: bottom}, vg.Point{X: right, Y: top}, vg.Point{X: left, Y: top})
}

// Where the caliper's beam lies, above the part.
const (
	beamFoot = 162
	beamHead = stepHeight - 1
)

// outside draws a caliper from above, whose jaws close on a part from left and right. The
// jaws reach down to foot.
func (p pen) outside(left, right, foot vg.Length) { p.caliper(left, right, foot, -1) }

// inside draws a caliper from above, whose jaws open against two walls.
func (p pen) inside(left, right, foot vg.Length) { p.caliper(left, right, foot, 1) }

// caliper draws a beam and two jaws. The measuring faces are at left and right; a jaw lies
// on the side of its face that way (1: between them, −1: beyond them).
func (p pen) caliper(left, right, foot, way vg.Length) {
	const jaw, tip = 17, 7
	p.blade(p.box(min(left, left+way*jaw)-16, beamFoot, max(right, right-way*jaw)+16, beamHead))
	for _, j := range []struct{ face, way vg.Length }{{left, way}, {right, -way}} {
		p.blade(p.path(vg.Point{X: j.face, Y: foot}, vg.Point{X: j.face, Y: beamFoot}, vg.Point{X: j.face + j.way*jaw, Y: beamFoot},
			vg.Point{X: j.face + j.way*jaw, Y: foot + 30}, vg.Point{X: j.face + j.way*tip, Y: foot}))
	}
}

// depth draws a caliper that stands on a face at the height seat, with its rod let down at x
// to foot.
func (p pen) depth(x, seat, foot vg.Length) {
	p.blade(p.box(x-4, foot, x+4, seat+10))
	p.blade(p.box(x-30, seat, x+30, beamHead))
}

// blade draws a piece of the caliper.
func (p pen) blade(path vg.Path) {
	p.c.SetColor(rule)
	p.c.Fill(path)
	p.c.SetLineStyle(line(faded, 1.4))
	p.c.Stroke(path)
}

const (
	markWidth = 3.2 // points
	arrowLong = 13
	arrowWide = 6.5
)

// mark draws the dimension from a to b, with its name at a place beside it.
func (p pen) mark(a, b, name vg.Point, x text.XAlignment) {
	middle := p.p((a.X+b.X)/2, (a.Y+b.Y)/2)
	p.arrows([2]vg.Point{middle, p.p(a.X, a.Y)}, [2]vg.Point{middle, p.p(b.X, b.Y)})
	p.name(name, x)
}

// thin marks a dimension too small for arrows within: they point at it from left and right.
func (p pen) thin(left, right, y vg.Length, name vg.Point, x text.XAlignment) {
	const long = 34
	p.arrows([2]vg.Point{p.p(left-long, y), p.p(left, y)}, [2]vg.Point{p.p(right+long, y), p.p(right, y)})
	p.name(name, x)
}

// arrows draws heavy arrows, each from a place to its tip, on a lighter rim that sets them
// off from any ground.
func (p pen) arrows(all ...[2]vg.Point) {
	for _, rim := range []vg.Length{2.4, 0} {
		for _, a := range all {
			from, tip := a[0], a[1]
			dx, dy := tip.X-from.X, tip.Y-from.Y
			long := vg.Length(math.Hypot(float64(dx), float64(dy)))
			dx, dy = dx/long, dy/long
			back := vg.Point{X: tip.X - dx*arrowLong, Y: tip.Y - dy*arrowLong}
			head := polygon(tip, vg.Point{X: back.X - dy*arrowWide, Y: back.Y + dx*arrowWide}, vg.Point{X: back.X + dy*arrowWide, Y: back.Y - dx*arrowWide})
			if rim > 0 {
				p.c.StrokeLine2(line(paper, markWidth+rim.Points()), from.X, from.Y, back.X, back.Y)
				p.c.SetLineStyle(line(paper, rim.Points()))
				p.c.Stroke(head)
				continue
			}
			p.c.StrokeLine2(line(rust, markWidth), from.X, from.Y, back.X, back.Y)
			p.c.SetColor(rust)
			p.c.Fill(head)
		}
	}
}

// name writes the dimension's name on a ground of paper.
func (p pen) name(at vg.Point, x text.XAlignment) {
	style := aligned(bold(letters(onStep.word, rust)), x, text.YCenter)
	place := p.p(at.X, at.Y)
	room := style.Rectangle(p.label).Add(place)
	p.c.SetColor(paper)
	p.c.Fill(polygon(vg.Point{X: room.Min.X - 3, Y: place.Y - 10}, vg.Point{X: room.Max.X + 3, Y: place.Y - 10},
		vg.Point{X: room.Max.X + 3, Y: place.Y + 11}, vg.Point{X: room.Min.X - 3, Y: place.Y + 11}))
	p.c.FillText(style, place, p.label)
}

// side draws a thin line that carries a face out to where its dimension is marked.
func (p pen) side(fromX, toX, y vg.Length) {
	a, b := p.p(fromX, y), p.p(toX, y)
	p.c.StrokeLine2(line(ink, 1), a.X, a.Y, b.X, b.Y)
}

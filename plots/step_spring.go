package plots

import (
	"math"

	"evenbeat/sessions"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// springSteps are the drawings for a mainspring and its barrel.
func springSteps() []step {
	of := sessions.SpringFinding
	return []step{
		{of, "bore", "bore", "The barrel from above. The jaws open inside it, from wall to wall.", drawBore},
		{of, "depth", "depth", "The barrel cut through. The caliper stands where the cover seats, and its rod reaches the floor.", drawDepth},
		{of, "arbor", "arbor", "The arbor from its end. The jaws close on its core, clear of the hook.", drawArbor},
		{of, "strip", "strip", "The strip on its edge. The jaws close on its two faces.", drawStrip},
		{of, "height", "height", "The strip from its side. The jaws close on its two edges.", drawStripHeight},
		{of, "length", "length", "The strip laid along a rule, from the middle of its hole to the other end.", drawStripLength},
		{of, "inner", "inside", "The barrel from above with its spring run down. The jaws open in the hole of the coil.", drawInner},
		{of, "coils", "coils", "The barrel from above with its spring run down. An arrow counts the coils from the wall inwards.", drawCoils},
		{of, "free", "free", "The spring out of its barrel, lying free. The jaws close on the outermost coil.", drawFree},
		{of, "free-coils", "coils", "The spring out of its barrel, lying free. An arrow counts its coils.", drawFreeCoils},
	}
}

// The barrel as it is drawn for a step: the sizes of none that exists.
const (
	stepRadius = 72 // of the bore, points
	stepFloor  = 6  // of the barrel's foot above the canvas
)

// barrel returns a section of the barrel, and its centre.
func (p pen) barrel() (section, vg.Point) {
	v := barrelView{bore: 45, arbor: 17, strip: 1.6, wound: 34, rundown: 30, half: 34}
	return section{c: p.c, layout: onStep, v: v, scale: stepRadius / vg.Length(v.bore/2), wall: 7, outline: 1.4}, p.p(stepMiddle, stepFloor+stepRadius+7)
}

func drawBore(p pen) {
	s, at := p.barrel()
	s.shell(at)
	middle := at.Y - p.at.Y
	p.inside(stepMiddle-stepRadius, stepMiddle+stepRadius, middle-12)
	p.mark(vg.Point{X: stepMiddle - stepRadius, Y: middle - 24}, vg.Point{X: stepMiddle + stepRadius, Y: middle - 24},
		vg.Point{X: stepMiddle, Y: middle - 2}, text.XCenter)
}

// stepCoil draws the run-down coil in the barrel.
func (p pen) stepCoil() (section, vg.Point) {
	s, at := p.barrel()
	s.shell(at)
	inner, outer, inset := s.half(s.v.rundown), s.half(s.v.bore), -s.half(s.v.strip)
	s.coil(at, inner, outer, inset, wallHook-2*math.Pi*s.turns(outer-inner))
	s.hook(at, outer, -1, wallHook)
	return s, at
}

func drawInner(p pen) {
	s, at := p.stepCoil()
	r, middle := s.half(s.v.rundown-s.v.strip), at.Y-p.at.Y
	p.inside(stepMiddle-r, stepMiddle+r, middle-8)
	p.mark(vg.Point{X: stepMiddle - r, Y: middle - 18}, vg.Point{X: stepMiddle + r, Y: middle - 18}, vg.Point{X: stepMiddle, Y: middle + 4}, text.XCenter)
}

func drawCoils(p pen) {
	s, at := p.stepCoil()
	y := at.Y - p.at.Y
	p.arrows([2]vg.Point{p.p(stepMiddle-stepRadius-26, y), p.p(stepMiddle-s.half(s.v.rundown)+10, y)})
	p.name(vg.Point{X: stepMiddle, Y: y + 24}, text.XCenter)
}

func drawArbor(p pen) {
	s, at := p.barrel()
	s.scale *= 2.1
	s.v.strip /= 2.5
	at.Y -= 8
	s.core(at, -math.Pi/2)
	r, middle := s.half(s.v.arbor), at.Y-p.at.Y
	p.outside(stepMiddle-r, stepMiddle+r, middle-16)
	p.mark(vg.Point{X: stepMiddle - r, Y: middle}, vg.Point{X: stepMiddle + r, Y: middle}, vg.Point{X: stepMiddle + r + 27, Y: middle - 34}, text.XLeft)
}

// free draws the spring out of its barrel, round a centre, and returns its radius.
func (p pen) free() (vg.Point, vg.Length) {
	at, r := p.p(stepMiddle, 76), vg.Length(72)
	p.c.SetLineStyle(line(steel, 3.4))
	p.c.Stroke(spiral(at, 12, r, 0, 5))
	return at, r + 1.7
}

func drawFree(p pen) {
	at, r := p.free()
	middle := at.Y - p.at.Y
	p.outside(stepMiddle-r+3, stepMiddle+r, middle-14)
	p.mark(vg.Point{X: stepMiddle - r + 3, Y: middle}, vg.Point{X: stepMiddle + r, Y: middle}, vg.Point{X: stepMiddle + r + 8, Y: 16}, text.XLeft)
}

func drawFreeCoils(p pen) {
	at, r := p.free()
	y := at.Y - p.at.Y
	p.arrows([2]vg.Point{p.p(stepMiddle-r-26, y), p.p(stepMiddle-6, y)})
	p.name(vg.Point{X: stepMiddle + r + 4, Y: y + 60}, text.XCenter)
}

func drawDepth(p pen) {
	const left, right, floor, seat, wall = 38, 208, 20, 116, 14
	p.solid(p.path(vg.Point{X: left - wall, Y: floor - 14}, vg.Point{X: right + wall, Y: floor - 14}, vg.Point{X: right + wall, Y: seat + 12},
		vg.Point{X: right + wall/2, Y: seat + 12}, vg.Point{X: right + wall/2, Y: seat}, vg.Point{X: right, Y: seat}, vg.Point{X: right, Y: floor},
		vg.Point{X: left, Y: floor}, vg.Point{X: left, Y: seat}, vg.Point{X: left - wall/2, Y: seat}, vg.Point{X: left - wall/2, Y: seat + 12}, vg.Point{X: left - wall, Y: seat + 12}))
	// The caliper stands on the seat of the cover.
	p.blade(p.box(left+12, floor, left+20, seat+10))
	p.blade(p.box(left-5, seat, left+42, beamHead))
	p.side(left+42, right, seat)
	p.mark(vg.Point{X: 140, Y: floor}, vg.Point{X: 140, Y: seat}, vg.Point{X: 152, Y: (floor + seat) / 2}, text.XLeft)
}

func drawStrip(p pen) {
	const half = 11
	p.strip(half, 128)
	p.outside(stepMiddle-half, stepMiddle+half, 66)
	p.thin(stepMiddle-half, stepMiddle+half, 46, vg.Point{X: stepMiddle + 56, Y: 46}, text.XLeft)
}

// strip draws a piece of strip that stands upright from the foot of the canvas.
func (p pen) strip(half, top vg.Length) {
	path := p.box(stepMiddle-half, 0, stepMiddle+half, top)
	p.c.SetColor(steel)
	p.c.Fill(path)
	p.outline(path)
}

func drawStripHeight(p pen) {
	const half = 42
	p.strip(half, 140)
	p.hollow(circle(p.p(stepMiddle, 116), 11))
	p.outside(stepMiddle-half, stepMiddle+half, 62)
	p.mark(vg.Point{X: stepMiddle - half, Y: 74}, vg.Point{X: stepMiddle + half, Y: 74}, vg.Point{X: stepMiddle, Y: 46}, text.XCenter)
}

func drawStripLength(p pen) {
	const left, right, hole = 8, 238, 30
	path := p.box(left, 84, right, 108)
	p.c.SetColor(steel)
	p.c.Fill(path)
	p.outline(path)
	p.hollow(circle(p.p(hole, 96), 7))
	p.solid(p.box(left, 36, right, 70))
	for x := vg.Length(hole); x < right; x += 10 {
		a, b := p.p(x, 70), p.p(x, 58)
		p.c.StrokeLine2(line(ink, 1), a.X, a.Y, b.X, b.Y)
	}
	for _, x := range []vg.Length{hole, right} {
		a, b := p.p(x, 96), p.p(x, 138)
		p.c.StrokeLine2(line(ink, 1), a.X, a.Y, b.X, b.Y)
	}
	p.mark(vg.Point{X: hole, Y: 128}, vg.Point{X: right, Y: 128}, vg.Point{X: (hole + right) / 2, Y: 152}, text.XCenter)
}

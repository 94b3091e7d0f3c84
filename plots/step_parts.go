package plots

import (
	"math"

	"evenbeat/sessions"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// partSteps are the drawings for pivots, wheels and pendulums.
func partSteps() []step {
	pivot, wheel, pendulum := sessions.PivotFinding, sessions.WheelFinding, sessions.PendulumFinding
	return []step{
		{pivot, "shoulder", "shoulder", "A pivot upright. The jaws close on it close to its shoulder.", func(p pen) { drawPivot(p, pivotFoot+8) }},
		{pivot, "tip", "tip", "A pivot upright. The jaws close on it close to its end.", func(p pen) { drawPivot(p, pivotHead-24) }},
		{pivot, "reach", "reach", "A pivot upright. The caliper stands on its end, and its rod reaches the shoulder.", drawReach},
		{pivot, "hole", "hole", "A hole in its plate. The jaws open in it.", drawHole},
		{pivot, "plate", "plate", "A plate on its edge, beside the hole. The jaws close on its two faces.", drawPlate},
		{wheel, "wheel", "wheel", "A wheel from its face. The jaws close over the tips of its teeth.", func(p pen) { drawGear(p, 64, 30) }},
		{wheel, "teeth", "teeth", "A wheel from its face. An arrow runs round its teeth, to be counted.", func(p pen) { drawCount(p, 56, 30) }},
		{wheel, "pinion", "pinion", "A pinion from its end. The jaws close over the tips of its leaves.", func(p pen) { drawGear(p, 46, 8) }},
		{wheel, "leaves", "leaves", "A pinion from its end. An arrow runs round its leaves, to be counted.", func(p pen) { drawCount(p, 46, 8) }},
		{wheel, "centres", "centres", "Two pivot holes in a plate, and the distance between their centres.", drawCentres},
		{pendulum, "length", "length", "A pendulum, from where its suspension spring bends to the middle of the bob.", drawPendulumLength},
		{pendulum, "bob", "bob", "The bob from its face. The jaws close on its sides.", drawBob},
		{pendulum, "rod", "rod", "The rod upright. The jaws close on its sides.", drawRod},
		{pendulum, "ten-threads", "10 threads", "The thread of the nut. The jaws span ten of its pitches.", drawThreads},
	}
}

// The pivot stands upright on its arbor.
const (
	pivotHalf = 26
	pivotFoot = 44
	pivotHead = 126
)

func (p pen) pivot() {
	p.solid(p.box(stepMiddle-58, 0, stepMiddle+58, pivotFoot))
	p.solid(p.box(stepMiddle-pivotHalf, pivotFoot, stepMiddle+pivotHalf, pivotHead))
}

func drawPivot(p pen, y vg.Length) {
	p.pivot()
	p.outside(stepMiddle-pivotHalf, stepMiddle+pivotHalf, y-6)
	p.mark(vg.Point{X: stepMiddle - pivotHalf, Y: y + 4}, vg.Point{X: stepMiddle + pivotHalf, Y: y + 4}, vg.Point{X: stepMiddle, Y: pivotFoot / 2}, text.XCenter)
}

func drawReach(p pen) {
	p.pivot()
	p.depth(stepMiddle+pivotHalf+12, pivotHead, pivotFoot)
	x := vg.Length(stepMiddle - pivotHalf - 22)
	p.side(stepMiddle-pivotHalf, x-10, pivotHead)
	p.mark(vg.Point{X: x, Y: pivotFoot}, vg.Point{X: x, Y: pivotHead}, vg.Point{X: x - 12, Y: (pivotFoot + pivotHead) / 2}, text.XRight)
}

func drawHole(p pen) {
	const r, y = 46, 76
	p.solid(p.box(20, 8, 2*stepMiddle-20, 142))
	p.hollow(circle(p.p(stepMiddle, y), r))
	p.inside(stepMiddle-r, stepMiddle+r, y-6)
	p.mark(vg.Point{X: stepMiddle - r, Y: y - 12}, vg.Point{X: stepMiddle + r, Y: y - 12}, vg.Point{X: stepMiddle + r + 28, Y: y - 50}, text.XCenter)
}

func drawPlate(p pen) {
	const half = 24
	p.solid(p.box(stepMiddle-half, 0, stepMiddle+half, 140))
	for _, y := range []vg.Length{16, 40} { // the hole, behind
		a, b := p.p(stepMiddle-half, y), p.p(stepMiddle+half, y)
		p.c.StrokeLine2(line(ink, 1.2, 5, 4), a.X, a.Y, b.X, b.Y)
	}
	p.outside(stepMiddle-half, stepMiddle+half, 62)
	p.mark(vg.Point{X: stepMiddle - half, Y: 74}, vg.Point{X: stepMiddle + half, Y: 74}, vg.Point{X: stepMiddle + half + 28, Y: 40}, text.XLeft)
}

// gear draws a wheel round a centre, with one tooth at the left and one at the right.
func (p pen) gear(at vg.Point, r vg.Length, teeth int) {
	deep := vg.Length(9)
	var rim []vg.Point
	for i := range teeth * 4 {
		angle := 2 * math.Pi * (float64(i) - 0.5) / float64(teeth*4)
		out := r
		if i%4 > 1 {
			out -= deep
		}
		sin, cos := math.Sincos(angle)
		rim = append(rim, vg.Point{X: at.X + out*vg.Length(cos), Y: at.Y + out*vg.Length(sin)})
	}
	p.solid(polygon(rim...))
	p.hollow(circle(at, 8))
}

func drawGear(p pen, r vg.Length, teeth int) {
	at := p.p(stepMiddle, 68)
	p.gear(at, r, teeth)
	p.outside(stepMiddle-r, stepMiddle+r, 54)
	p.mark(vg.Point{X: stepMiddle - r, Y: 68}, vg.Point{X: stepMiddle + r, Y: 68}, vg.Point{X: stepMiddle + 58, Y: 16}, text.XLeft)
}

func drawCount(p pen, r vg.Length, teeth int) {
	at := p.p(stepMiddle, 92)
	p.gear(at, r, teeth)
	round := r + 16
	const from, turn = 0.25 * math.Pi, 0.8 // an arrow over most of a turn
	end := from + 2*math.Pi*turn
	place := func(angle float64) vg.Point {
		sin, cos := math.Sincos(angle)
		return vg.Point{X: at.X + round*vg.Length(cos), Y: at.Y + round*vg.Length(sin)}
	}
	p.c.SetLineStyle(line(rust, markWidth))
	p.c.Stroke(spiral(at, round, round, from, turn))
	p.arrows([2]vg.Point{place(end), place(end + arrowLong/float64(round)*1.1)})
	p.name(vg.Point{X: stepMiddle + round + 4, Y: 16}, text.XCenter)
}

func drawCentres(p pen) {
	const left, right, y = 60, 190, 66
	p.solid(p.box(14, 16, 2*stepMiddle-14, 116))
	for _, x := range []vg.Length{left, right} {
		p.hollow(circle(p.p(x, y), 13))
		a, b := p.p(x, y-22), p.p(x, 150)
		p.c.StrokeLine2(line(ink, 1), a.X, a.Y, b.X, b.Y)
		p.side(x-22, x+22, y)
	}
	p.mark(vg.Point{X: left, Y: 138}, vg.Point{X: right, Y: 138}, vg.Point{X: (left + right) / 2, Y: 164}, text.XCenter)
}

func drawPendulumLength(p pen) {
	const x, bend, bob, r = 92, 158, 40, 34
	p.solid(p.box(x-26, bend, x+26, stepHeight-2)) // what the spring hangs from
	p.solid(p.box(x-2, bend-26, x+2, bend))        // the spring
	p.solid(p.box(x-5, 0, x+5, bend-26))
	p.solid(circle(p.p(x, bob), r))
	p.side(x+26, 176, bend)
	p.side(x-10, 176, bob)
	p.mark(vg.Point{X: 164, Y: bob}, vg.Point{X: 164, Y: bend}, vg.Point{X: 176, Y: (bob + bend) / 2}, text.XLeft)
}

func drawBob(p pen) {
	const r, y = 58, 66
	p.solid(p.box(stepMiddle-6, 0, stepMiddle+6, 150))
	p.solid(circle(p.p(stepMiddle, y), r))
	p.outside(stepMiddle-r, stepMiddle+r, y-14)
	p.mark(vg.Point{X: stepMiddle - r, Y: y}, vg.Point{X: stepMiddle + r, Y: y}, vg.Point{X: stepMiddle, Y: y - 26}, text.XCenter)
}

func drawRod(p pen) {
	const half = 20
	p.solid(p.box(stepMiddle-half, 0, stepMiddle+half, stepHeight-2))
	p.outside(stepMiddle-half, stepMiddle+half, 56)
	p.mark(vg.Point{X: stepMiddle - half, Y: 68}, vg.Point{X: stepMiddle + half, Y: 68}, vg.Point{X: stepMiddle + half + 28, Y: 34}, text.XLeft)
}

func drawThreads(p pen) {
	const pitch, threads, left, low, high, deep = 13, 17, 14, 34, 84, 8
	var rim []vg.Point
	for i := range threads {
		x := vg.Length(left + i*pitch)
		rim = append(rim, vg.Point{X: x, Y: high - deep}, vg.Point{X: x + pitch/2, Y: high})
	}
	end := vg.Length(left + threads*pitch)
	rim = append(rim, vg.Point{X: end, Y: high - deep}, vg.Point{X: end, Y: low + deep})
	for i := threads - 1; i >= 0; i-- {
		x := vg.Length(left + i*pitch)
		rim = append(rim, vg.Point{X: x + pitch, Y: low + deep}, vg.Point{X: x + pitch/2, Y: low})
	}
	p.solid(p.path(append(rim, vg.Point{X: left, Y: low + deep})...))
	const from, to = left + 3*pitch, left + 13*pitch
	p.outside(from, to, high-deep)
	p.mark(vg.Point{X: from, Y: 112}, vg.Point{X: to, Y: 112}, vg.Point{X: (from + to) / 2, Y: 136}, text.XCenter)
}

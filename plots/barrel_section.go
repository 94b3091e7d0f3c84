package plots

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// section draws one cross-section of a barrel.
type section struct {
	c      draw.Canvas
	layout layout
	v      barrelView
	scale  vg.Length // points a metre
	wall   vg.Length // thickness as drawn; nobody measures it for this

	outline float64 // width of the lines round the parts, points
}

// half returns half a diameter in metres as drawn.
func (s section) half(diameter float64) vg.Length { return vg.Length(diameter/2) * s.scale }

const (
	// wallHook is the angle of the barrel's hook: at upper left, where there are no words.
	wallHook = 0.62 * math.Pi
	// looseTurns is how far the free strip runs between the pack and what holds its end.
	looseTurns = 0.8
)

// paint draws the barrel around a centre, with the coil wound on the arbor or run down
// against the wall. The strip is one spiral from the arbor's hook to the wall's.
func (s section) paint(at vg.Point, wound bool) {
	bore, arbor := s.half(s.v.bore), s.half(s.v.arbor)
	s.shell(at)
	inner, outer, inset := arbor, s.half(s.v.wound), s.half(s.v.strip)
	from, to := outer+inset, bore-inset // of the free strip
	if !wound {
		inner, outer, inset = s.half(s.v.rundown), bore, -inset
		from, to = arbor-inset, inner+inset
	}
	turns, loose := s.turns(outer-inner), 0.0
	if s.v.strip > 0 && to-from > s.half(2*s.v.strip) {
		loose = looseTurns
	}
	start := wallHook - 2*math.Pi*(turns+loose)
	if wound {
		s.coil(at, inner, outer, inset, start)
		s.free(at, from, to, start+2*math.Pi*turns, loose)
	} else {
		s.free(at, from, to, start, loose)
		s.coil(at, inner, outer, inset, start+2*math.Pi*loose)
	}
	s.stroke(line(paper, 2), circle(at, s.half(s.v.half)))
	s.stroke(line(rust, 1, 5, 2, 1, 2), circle(at, s.half(s.v.half)))
	s.hook(at, bore, -1, wallHook)
	s.core(at, start)
}

// shell draws the barrel's wall with its hook.
func (s section) shell(at vg.Point) {
	bore := s.half(s.v.bore)
	s.fill(metal, annulus(at, bore, bore+s.wall))
	s.stroke(line(ink, s.outline), circle(at, bore+s.wall))
	s.stroke(line(ink, s.outline), circle(at, bore))
	s.hook(at, bore, -1, wallHook)
}

// core draws the arbor with its square, and its hook at an angle.
func (s section) core(at vg.Point, hook float64) {
	arbor := s.half(s.v.arbor)
	s.fill(metal, circle(at, arbor))
	s.stroke(line(ink, s.outline), circle(at, arbor))
	s.square(at, arbor*0.42)
	s.hook(at, arbor, 1, hook)
}

// thinnest is the pitch of coils, in points, below which they would run together in
// print. Then the pack is shaded and fewer coils are drawn on it.
const thinnest = 0.9

// pitch returns that of the coils as drawn; 0 where the strip isn't known.
func (s section) pitch() vg.Length {
	pitch := s.half(2 * s.v.strip)
	if pitch > 0 && pitch < thinnest {
		pitch *= vg.Length(math.Ceil(float64(thinnest / pitch)))
	}
	return pitch
}

// turns returns how many coils are drawn in a pack of that depth.
func (s section) turns(deep vg.Length) float64 {
	if s.pitch() <= 0 || deep < leastPack {
		return 0
	}
	return float64(deep / s.pitch())
}

// leastPack is the depth in points below which a pack isn't drawn.
const leastPack = 0.1

// coil draws the pack between two radii. It shows the strip as it really winds, if its
// thickness is known and wide enough to see. The line runs along the middle of the strip,
// half a thickness (inset) off the arbor or the wall that it lies on.
func (s section) coil(at vg.Point, inner, outer, inset vg.Length, start float64) {
	if outer-inner < leastPack {
		return
	}
	pitch := s.pitch()
	if pitch != s.half(2*s.v.strip) || pitch <= 0 {
		s.fill(rule, annulus(at, inner, outer))
	}
	if pitch > 0 {
		s.stroke(line(s.shade(), (pitch*0.74).Points()), spiral(at, inner+inset, outer+inset, start, s.turns(outer-inner)))
	}
}

// shade is the strip's colour, a faint one for a strip that isn't there.
func (s section) shade() color.Color {
	if s.v.ideal {
		return faded
	}
	return steel
}

// free draws the strip between the pack and what holds its other end: the wall's hook when
// wound, the arbor's when run down. Its course is only an impression.
func (s section) free(at vg.Point, from, to vg.Length, start, turns float64) {
	if turns > 0 {
		s.stroke(line(s.shade(), max(0.5, s.half(2*s.v.strip).Points()*0.74)), spiral(at, from, to, start, turns))
	}
}

// hook draws the tooth that holds the strip by its hole, on a circle: outwards (side 1) on
// the arbor, inwards (−1) on the wall. It is drawn larger than it is, to be seen.
func (s section) hook(at vg.Point, radius, side vg.Length, angle float64) {
	deep := max(4.5, 2.5*s.half(2*s.v.strip))
	place := func(out, along vg.Length) vg.Point {
		sin, cos := math.Sincos(angle)
		r := radius + side*out
		return vg.Point{X: at.X + r*vg.Length(cos) - along*vg.Length(sin), Y: at.Y + r*vg.Length(sin) + along*vg.Length(cos)}
	}
	// It leans against the pull: the strip draws the wall's hook one way, the arbor's the other.
	lean := -0.5 * deep * side
	rim := []vg.Point{place(-0.9, -0.7*deep), place(deep, lean-0.4*deep), place(deep, lean+0.4*deep), place(-0.9, 0.7*deep)}
	s.fill(metal, polygon(rim...))
	s.c.StrokeLines(line(ink, s.outline), rim)
}

// square draws the winding square, hatched as a solid that is cut through.
func (s section) square(at vg.Point, half vg.Length) {
	path := polygon(vg.Point{X: at.X - half, Y: at.Y - half}, vg.Point{X: at.X + half, Y: at.Y - half},
		vg.Point{X: at.X + half, Y: at.Y + half}, vg.Point{X: at.X - half, Y: at.Y + half})
	step := max(2.6, half/4)
	for d := step - 2*half; d < 2*half-0.1; d += step {
		// The line y = x + d, as far as it lies in the square.
		s.c.StrokeLine2(line(ink, 0.6), at.X+max(-half, -half-d), at.Y+max(-half, d-half), at.X+min(half, half-d), at.Y+min(half, d+half))
	}
	s.stroke(line(ink, 0.9), path)
}

const halfNamed = "this circle halves the room"

// nameHalf names the broken circle, between two sections side by side.
func (s section) nameHalf(left, right vg.Point) {
	mid := vg.Point{X: (left.X + right.X) / 2, Y: left.Y}
	words := aligned(s.layout.words(rust), text.XCenter, text.YCenter)
	for i, w := range []string{"this circle", "halves the", "room"} {
		s.c.FillText(words, vg.Point{X: mid.X, Y: mid.Y + 10 - vg.Length(i)*10}, w)
	}
	r := s.half(s.v.half)
	for _, side := range []float64{-1, 1} {
		from := vg.Point{X: mid.X + vg.Length(side)*18, Y: mid.Y + 18}
		end := left
		if side > 0 {
			end = right
		}
		angle := math.Pi * 0.16
		to := vg.Point{X: end.X - vg.Length(side)*r*vg.Length(math.Cos(angle)), Y: end.Y + r*vg.Length(math.Sin(angle))}
		s.c.StrokeLine2(line(paper, 2), from.X, from.Y, to.X, to.Y)
		s.c.StrokeLine2(line(rust, 0.6), from.X, from.Y, to.X, to.Y)
		s.fill(rust, circle(to, 1.6))
	}
}

// keyHalf names the broken circle by a piece of its line.
func (s section) keyHalf(at vg.Point) {
	s.c.StrokeLine2(line(rust, 1.2, 5, 2, 1, 2), at.X, at.Y, at.X+24, at.Y)
	s.c.FillText(aligned(s.layout.words(rust), text.XLeft, text.YCenter), vg.Point{X: at.X + 30, Y: at.Y}, halfNamed)
}

// dimension is a diameter, in metres, that is marked above or below a section. Each has a
// side of its own, so that no words stand on the lines of another.
type dimension struct {
	diameter float64
	side     vg.Length // above or below
	words    string
}

const (
	above vg.Length = 1
	below vg.Length = -1

	toDimension = 11 // points from the wall to a dimension's line
)

// dimension draws a diameter: two thin lines from its ends to clear of the wall, arrows
// between them, and the words in the gap. Words that are wider, or that have a second line,
// stand beyond the line.
func (s section) dimension(at vg.Point, d dimension) {
	r := s.half(d.diameter)
	y := at.Y + d.side*(s.half(s.v.bore)+s.wall+toDimension)
	for _, x := range []vg.Length{at.X - r, at.X + r} {
		s.c.StrokeLine2(line(paper, 1.6), x, at.Y, x, y+d.side*3)
		s.c.StrokeLine2(line(faded, 0.45), x, at.Y, x, y+d.side*3)
	}
	style := aligned(s.layout.words(ink), text.XCenter, text.YCenter)
	lines, gap := twoLines(d.words), vg.Length(0)
	step := style.Font.Size * 1.25
	first := y + d.side*(4+step/2)
	switch w := style.Width(lines[0]) + 6; {
	case len(lines) == 1 && w <= 2*r-16: // two arrows, and a little air
		first, gap = y, w/2
	case d.side == above:
		first += step * vg.Length(len(lines)-1)
	}
	s.arrow(vg.Point{X: at.X - gap, Y: y}, vg.Point{X: at.X - r, Y: y})
	s.arrow(vg.Point{X: at.X + gap, Y: y}, vg.Point{X: at.X + r, Y: y})
	for i, l := range lines {
		s.c.FillText(style, vg.Point{X: at.X, Y: first - vg.Length(i)*step}, l)
	}
}

// arrow draws a level line with its head at the end.
func (s section) arrow(from, tip vg.Point) {
	s.c.StrokeLine2(line(ink, 0.5), from.X, from.Y, tip.X, tip.Y)
	back := tip.X + 5
	if from.X < tip.X {
		back = tip.X - 5
	}
	s.fill(ink, polygon(tip, vg.Point{X: back, Y: tip.Y + 1.6}, vg.Point{X: back, Y: tip.Y - 1.6}))
}

func (s section) fill(c color.Color, p vg.Path) {
	s.c.SetColor(c)
	s.c.Fill(p)
}

func (s section) stroke(style draw.LineStyle, p vg.Path) {
	s.c.SetLineStyle(style)
	s.c.Stroke(p)
}

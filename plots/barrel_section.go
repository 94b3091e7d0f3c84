package plots

import (
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// section draws one cross-section of a barrel.
type section struct {
	c     draw.Canvas
	v     barrelView
	scale vg.Length // points a metre
	wall  vg.Length // thickness as drawn; nobody measures it for this
}

// half returns half a diameter in metres as drawn.
func (s section) half(diameter float64) vg.Length { return vg.Length(diameter/2) * s.scale }

// paint draws the barrel around a centre, with the coil wound on the arbor or run down
// against the wall.
func (s section) paint(at vg.Point, wound bool) {
	bore, arbor := s.half(s.v.bore), s.half(s.v.arbor)
	s.fill(metal, annulus(at, bore, bore+s.wall))
	s.stroke(line(ink, 0.7), circle(at, bore+s.wall))
	s.stroke(line(ink, 0.7), circle(at, bore))
	if wound {
		s.coil(at, arbor, s.half(s.v.wound), s.half(s.v.strip))
		s.tail(at, s.half(s.v.wound), bore, true)
	} else {
		s.coil(at, s.half(s.v.rundown), bore, -s.half(s.v.strip))
		s.tail(at, arbor, s.half(s.v.rundown), false)
	}
	s.fill(metal, circle(at, arbor))
	s.stroke(line(ink, 0.8), circle(at, arbor))
	s.square(at, arbor*0.42)
	s.stroke(line(paper, 2), circle(at, s.half(s.v.half)))
	s.stroke(line(rust, 1, 5, 2, 1, 2), circle(at, s.half(s.v.half)))
}

// thinnest is the pitch of coils, in points, below which they would run together in
// print. Then the pack is shaded and fewer coils are drawn on it.
const thinnest = 0.9

// coil draws the pack between two radii. It shows the strip as it really winds, if its
// thickness is known and wide enough to see. The line runs along the middle of the strip,
// half a thickness (inset) off the arbor or the wall that it lies on.
func (s section) coil(at vg.Point, inner, outer, inset vg.Length) {
	if outer-inner < 0.1 {
		return
	}
	shade := color.Color(steel)
	if s.v.ideal {
		shade = faded
	}
	pitch := s.half(2 * s.v.strip)
	if pitch <= 0 {
		s.fill(rule, annulus(at, inner, outer))
		return
	}
	if pitch < thinnest {
		s.fill(rule, annulus(at, inner, outer))
		pitch *= vg.Length(math.Ceil(float64(thinnest / pitch)))
	}
	turns := float64((outer - inner) / pitch)
	s.stroke(line(shade, (pitch*0.74).Points()), spiral(at, inner+inset, outer+inset, s.hook(), turns))
}

// hook is the angle at which coils start: at upper right, where there are no words.
func (section) hook() float64 { return math.Pi / 3 }

// tail draws the free strip between the pack and what holds its other end: the wall's
// hook when wound, the arbor's when run down. Its course is only an impression.
func (s section) tail(at vg.Point, from, to vg.Length, outside bool) {
	if s.v.strip <= 0 || to-from < s.half(4*s.v.strip) {
		return
	}
	start := s.hook()
	turns := 0.8
	if outside {
		pitch := max(s.half(2*s.v.strip), thinnest)
		start += 2 * math.Pi * float64((from-s.half(s.v.arbor))/pitch)
	} else {
		start -= 2 * math.Pi * turns
	}
	shade := color.Color(steel)
	if s.v.ideal {
		shade = faded
	}
	inset := s.half(s.v.strip)
	width := max(0.5, s.half(2*s.v.strip).Points()*0.74)
	s.stroke(line(shade, width), spiral(at, from+inset, to-inset, start, turns))
}

// square draws the winding square, hatched as a solid that is cut through.
func (s section) square(at vg.Point, half vg.Length) {
	path := polygon(vg.Point{X: at.X - half, Y: at.Y - half}, vg.Point{X: at.X + half, Y: at.Y - half},
		vg.Point{X: at.X + half, Y: at.Y + half}, vg.Point{X: at.X - half, Y: at.Y + half})
	s.fill(paper, path)
	for d := -1.5 * half; d <= 1.5*half; d += half / 2 {
		// The line y = x + d, as far as it lies in the square.
		s.c.StrokeLine2(line(faded, 0.45), at.X+max(-half, -half-d), at.Y+max(-half, d-half), at.X+min(half, half-d), at.Y+min(half, d+half))
	}
	s.stroke(line(ink, 0.6), path)
}

// nameHalf names the broken circle, between the two sections.
func (s section) nameHalf(left, right vg.Point) {
	mid := vg.Point{X: (left.X + right.X) / 2, Y: left.Y}
	words := aligned(letters(wordSize, rust), text.XCenter, text.YCenter)
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

// dimension draws a diameter below the section at height y: two thin lines down from its
// ends, arrows between them, and the words in the gap. If they are wider, they stand outside
// of the diameter beyond. Inches after millimetres go beneath.
func (s section) dimension(at vg.Point, diameter, beyond float64, y vg.Length, words string) {
	r := s.half(diameter)
	for _, x := range []vg.Length{at.X - r, at.X + r} {
		s.c.StrokeLine2(line(paper, 1.6), x, at.Y, x, y-3)
		s.c.StrokeLine2(line(faded, 0.45), x, at.Y, x, y-3)
	}
	s.c.StrokeLine2(line(ink, 0.5), at.X-r, y, at.X+r, y)
	s.arrow(vg.Point{X: at.X - r, Y: y}, 1)
	s.arrow(vg.Point{X: at.X + r, Y: y}, -1)
	style := aligned(letters(wordSize, ink), text.XCenter, text.YCenter)
	first, second, both := strings.Cut(words, " (")
	second = strings.TrimSuffix(second, ")")
	w := max(style.Width(first), style.Width(second))
	place, low := vg.Point{X: at.X, Y: y}, y-5
	if both {
		low -= 9
	}
	if w > 2*r-16 { // two arrows, and a little air
		end := at.X + max(r, s.half(beyond)) + 4
		s.c.StrokeLine2(line(ink, 0.5), at.X+r, y, end, y)
		place.X = end + 4 + w/2
	}
	s.fill(paper, polygon(vg.Point{X: place.X - w/2 - 3, Y: low}, vg.Point{X: place.X + w/2 + 3, Y: low},
		vg.Point{X: place.X + w/2 + 3, Y: y + 5}, vg.Point{X: place.X - w/2 - 3, Y: y + 5}))
	s.c.FillText(style, place, first)
	s.c.FillText(style, vg.Point{X: place.X, Y: y - 9}, second)
}

func (s section) arrow(tip vg.Point, side vg.Length) {
	s.fill(ink, polygon(tip, vg.Point{X: tip.X + side*5, Y: tip.Y + 1.6}, vg.Point{X: tip.X + side*5, Y: tip.Y - 1.6}))
}

func (s section) fill(c color.Color, p vg.Path) {
	s.c.SetColor(c)
	s.c.Fill(p)
}

func (s section) stroke(style draw.LineStyle, p vg.Path) {
	s.c.SetLineStyle(style)
	s.c.Stroke(p)
}

package plots

import (
	"fmt"
	"math"
	"strings"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// barrelView is what the figure is drawn from, in metres: the barrel's two
// circles, and how far the coil reaches when wound and when run down.
type barrelView struct {
	bore, arbor, strip float64 // strip 0: not known
	wound, rundown     float64
	half               float64 // the circle that halves the room
	ideal              bool    // the coil is that of the ideal length, for want of the spring's own
}

// drawBarrel answers: how does this spring lie in its barrel? It shows the barrel
// in cross-section to scale, with the spring wound on the left and run down on the
// right. A circle halves the room between arbor and wall: a strip that fills half of it
// just reaches that circle both ways. Diameters are in the chosen units, with their 95 %
// intervals.
func drawBarrel(f Findings) (Figure, error) {
	if f.Spring == nil || !told(f.Spring.Bore) || !told(f.Spring.Arbor) {
		return empty("the barrel needs a bore and an arbor",
			"Measure them with evenbeat measure --plan mainspring, or give them to evenbeat spring --bore … --arbor …."), nil
	}
	r := *f.Spring
	v, err := viewBarrel(r)
	if err != nil {
		return Figure{}, err
	}
	b := newBarrelFigure(f.layout(), r, v, f.Units)
	return Figure{
		Title:  springTitle(r),
		Note:   barrelNote(r, v),
		Desc:   barrelDesc(r, v, f.Units),
		height: b.height(),
		draw:   b.draw,
	}, nil
}

// thinnestStrip, in metres, is thinner than any strip that is rolled. Thinner coils could
// neither be counted nor drawn.
const thinnestStrip = 1e-6

// viewBarrel works out what is drawn. A result without a strip lacks the diameter of the
// circle that halves the room, √((D² + d²)/2), which is computed only for the drawing.
func viewBarrel(r spring.Result) (barrelView, error) {
	v := barrelView{bore: r.Bore.V, arbor: r.Arbor.V}
	if !(v.arbor > 0 && v.bore > v.arbor) {
		return v, fmt.Errorf("bore %g m, arbor %g m: the bore must be larger than the arbor", v.bore, v.arbor)
	}
	if told(r.Strip) && r.Strip.V > thinnestStrip && r.Strip.V < (v.bore-v.arbor)/2 {
		v.strip = r.Strip.V
	}
	v.half = r.HalfCircle
	if !(v.half > v.arbor && v.half < v.bore) {
		v.half = math.Sqrt((v.bore*v.bore + v.arbor*v.arbor) / 2)
	}
	v.wound, v.rundown, v.ideal = v.half, v.half, true
	if told(r.Wound) && told(r.Rundown) {
		v.wound, v.rundown, v.ideal = r.Wound.V, r.Rundown.V, false
	}
	// A strip longer than the room is drawn as filling it: the title says the rest.
	v.wound = min(max(v.wound, v.arbor), v.bore)
	v.rundown = min(max(v.rundown, v.arbor), v.bore)
	return v, nil
}

// springTitle gives the verdict in words, with the turns if they are known.
func springTitle(r spring.Result) string {
	if !told(r.Turns) || !told(r.TurnsBest) {
		return r.Whole.Says
	}
	return fmt.Sprintf("%s. It gives %s of %s possible turns", r.Whole.Says,
		strings.TrimSuffix(r.Turns.Text("turns"), " turns"), r.TurnsBest.Plain("turns"))
}

// springCaution is in each figure of a spring, since one may be printed and lie on the
// bench by itself.
const springCaution = "Let the spring down fully before the barrel is opened, and never hold it by hand alone."

func barrelNote(r spring.Result, v barrelView) string {
	var s []string
	if told(r.Fill) {
		s = append(s, "The strip fills "+r.Fill.Scale(100).Text("%")+" of the space; half is ideal.")
	}
	if v.ideal {
		s = append(s, "The coil is drawn as the ideal length would lie.")
	}
	return strings.Join(append(s, "± is the 95 % interval. Bore, arbor and coil are to scale.", springCaution), " ")
}

func barrelDesc(r spring.Result, v barrelView, u quantity.System) string {
	s := fmt.Sprintf("Cross-section of a mainspring barrel, bore %s, arbor %s. ", u.Length(*r.Bore), u.Length(*r.Arbor))
	if v.ideal {
		return s + "The coil is drawn as a strip of the ideal length would lie, out to the circle that halves the room, on either side."
	}
	return s + fmt.Sprintf("Left, the coil wound on the arbor out to %s. Right, run down against the wall, in to %s. "+
		"A broken circle halves the room between.", u.Length(*r.Wound), u.Length(*r.Rundown))
}

// barrelFigure is what stands below the title: two sections of the barrel and a block of
// values. The sections stand side by side on paper, one above the other on a phone.
type barrelFigure struct {
	layout  layout
	section section
	wound   []dimension
	rundown []dimension
	values  [][2]string
	lines   int // of a value: 2 where inches stand below millimetres
}

func newBarrelFigure(l layout, r spring.Result, v barrelView, u quantity.System) barrelFigure {
	radius := l.choose(92, l.inner()/2-10)
	wall := radius * 0.06
	b := barrelFigure{layout: l, values: springValues(r, u), lines: 1,
		section: section{layout: l, v: v, scale: (radius - wall) / vg.Length(v.bore/2), wall: wall, outline: 0.8}}
	if u == quantity.Both {
		b.lines = 2
	}
	b.wound = []dimension{{v.arbor, above, "arbor " + u.Length(*r.Arbor)}}
	b.rundown = []dimension{{v.bore, below, "bore " + u.Length(*r.Bore)}}
	if !v.ideal {
		b.wound = append(b.wound, dimension{v.wound, below, "coil, outside Ø " + u.Length(*r.Wound)})
		b.rundown = append(b.rundown, dimension{v.rundown, above, "coil, inside Ø " + u.Length(*r.Rundown)})
	}
	return b
}

// line is the height of a line of words.
func (b barrelFigure) line() vg.Length { return vg.Points(b.layout.word * 1.3) }

// row is the room for a dimension above or below a section.
func (b barrelFigure) row() vg.Length {
	return toDimension + 3 + b.line()*vg.Length(b.lines)
}

// sectionHeight is that of a section with its name and dimensions.
func (b barrelFigure) sectionHeight() vg.Length {
	return 2*(b.section.half(b.section.v.bore)+b.section.wall) + b.name() + 2*b.row()
}

// name is the room for a section's name.
func (b barrelFigure) name() vg.Length { return b.line() + 4 }

// keyHeight is the room that names the broken circle. On paper it is named between the
// sections.
func (b barrelFigure) keyHeight() vg.Length { return b.layout.choose(0, b.line()+6) }

func (b barrelFigure) columns() int { return int(b.layout.choose(4, 2)) }

func (b barrelFigure) valueHeight() vg.Length { return b.line()*vg.Length(b.lines+1) + 6 }

func (b barrelFigure) height() vg.Length {
	rows := (len(b.values) + b.columns() - 1) / b.columns()
	return b.keyHeight() + b.sectionHeight()*b.layout.choose(1, 2) + 10 + b.valueHeight()*vg.Length(rows)
}

func (b barrelFigure) draw(c draw.Canvas) {
	s := b.section
	s.c = c
	top, deep := c.Max.Y-b.keyHeight(), b.sectionHeight()
	quarter := (c.Max.X - c.Min.X) / 4
	left, right := vg.Point{X: c.Min.X + quarter - 8, Y: top - deep/2 - b.name()/2}, vg.Point{}
	right = vg.Point{X: c.Max.X - quarter + 8, Y: left.Y}
	foot := top - deep
	if b.layout.narrow {
		left.X, right.X = c.Center().X, c.Center().X
		right.Y, foot = left.Y-deep, foot-deep
		s.keyHalf(vg.Point{X: c.Min.X, Y: c.Max.Y - b.line()/2})
	}
	name := aligned(bold(letters(b.layout.note, ink)), text.XCenter, text.YTop)
	for _, side := range []struct {
		at         vg.Point
		name       string
		wound      bool
		dimensions []dimension
	}{{left, "Wound", true, b.wound}, {right, "Run down", false, b.rundown}} {
		c.FillText(name, vg.Point{X: side.at.X, Y: side.at.Y + deep/2 + b.name()/2}, side.name)
		s.paint(side.at, side.wound)
		for _, d := range side.dimensions {
			s.dimension(side.at, d)
		}
	}
	if !b.layout.narrow {
		s.nameHalf(left, right)
	}
	b.valueBlock(draw.Crop(c, 0, 0, 0, foot-6-c.Max.Y))
}

// springValues are the values that have no place in the drawing.
func springValues(r spring.Result, u quantity.System) [][2]string {
	length := func(v *quantity.Value) string {
		if !told(v) {
			return "not known"
		}
		return u.Length(*v)
	}
	plain := func(v *quantity.Value) string {
		if !told(v) {
			return "not known"
		}
		return v.Text("")
	}
	last := [2]string{"turns", plain(r.Turns)}
	if g := r.GoingHours; g != nil && told(&g.Value) {
		last = [2]string{"goes on one winding", g.Text("h")}
	}
	return [][2]string{
		{"strip's thickness", length(r.Strip)},
		{"length", length(r.Length)},
		{"ideal length", length(r.IdealLength)},
		last,
	}
}

// valueBlock sets names above values in columns, under a rule. Inches after millimetres
// get a line of their own.
func (b barrelFigure) valueBlock(c draw.Canvas) {
	c.StrokeLine2(line(rule, 0.7), c.Min.X, c.Max.Y, c.Max.X, c.Max.Y)
	width := (c.Max.X - c.Min.X) / vg.Length(b.columns())
	name := aligned(b.layout.words(faded), text.XLeft, text.YTop)
	value := aligned(letters(b.layout.note, ink), text.XLeft, text.YTop)
	for i, v := range b.values {
		at := vg.Point{X: c.Min.X + vg.Length(i%b.columns())*width, Y: c.Max.Y - 5 - vg.Length(i/b.columns())*b.valueHeight()}
		c.FillText(name, at, v[0])
		for _, words := range twoLines(v[1]) {
			at.Y -= b.line()
			c.FillText(value, at, words)
		}
	}
}

// twoLines parts millimetres from the inches that follow in brackets.
func twoLines(value string) []string {
	first, second, both := strings.Cut(value, " (")
	if !both {
		return []string{first}
	}
	return []string{first, strings.TrimSuffix(second, ")")}
}

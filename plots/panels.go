package plots

import (
	"math"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// panel is one plot of a figure. A heading above it, in place of a label along its side,
// names what is shown and its unit.
type panel struct {
	heading string
	key     []mark    // what the marks mean, at the right of the heading or below it
	lane    vg.Length // room for words between heading and plot
	right   vg.Length // room for words at the right of the plot
	height  vg.Length // of the plot with its axis
	plot    *axes
	axis    string // names the level axis, at its right end; "" for the upper of two panels
}

// mark is an entry of a key.
type mark struct {
	shape shape
	words string
}

// Room in points: after a heading, between panels, and for a mark before and after its
// words.
const (
	afterHeading = 4
	betweenGap   = 8
	beforeWords  = 13
	afterWords   = 8
)

// panels are drawn one above the other, with their data areas aligned.
type panels struct {
	layout layout
	all    []panel
}

// height returns how high the panels are together.
func (ps panels) height() vg.Length {
	h := vg.Length(len(ps.all)-1) * betweenGap
	for _, p := range ps.all {
		h += ps.head(p).height() + p.lane + p.height + ps.axis(p).height()
	}
	return h
}

// axis is the name of a panel's level axis.
func (ps panels) axis(p panel) paragraph {
	return balanced(aligned(ps.layout.words(faded), text.XRight, text.YTop), p.axis, ps.layout.inner(), 1.25)
}

func (ps panels) draw(c draw.Canvas) {
	top := c.Max.Y
	var areas []draw.Canvas
	lowest, highest := vg.Length(math.Inf(-1)), vg.Length(math.Inf(1))
	for _, p := range ps.all {
		head := ps.head(p)
		head.draw(c, top)
		top -= head.height() + p.lane
		area := draw.Crop(c, 0, -p.right, top-p.height-c.Min.Y, top-c.Max.Y)
		areas = append(areas, area)
		data := p.plot.data(area)
		lowest, highest = max(lowest, data.Min.X), min(highest, data.Max.X)
		top = ps.axis(p).fill(c, vg.Point{X: area.Max.X, Y: top - p.height}) - betweenGap
	}
	for i, p := range ps.all {
		data := p.plot.data(areas[i])
		p.plot.draw(draw.Crop(areas[i], lowest-data.Min.X, highest-data.Max.X, 0, 0))
	}
}

// head is a panel's heading, and its key by lines.
type head struct {
	paragraph
	words  text.Style // of the key
	key    [][]mark
	beside bool // the key stands at the right of the heading, which has one line
}

func (ps panels) head(p panel) head {
	width := ps.layout.inner()
	h := head{paragraph: balanced(bold(letters(ps.layout.note, ink)), p.heading, width, 1.35),
		words: aligned(ps.layout.words(ink), text.XLeft, text.YTop)}
	room := h.style.Width(p.heading) + 2*afterWords
	for _, m := range p.key {
		room += h.wide(m)
	}
	if h.beside = room <= width; h.beside {
		h.key = [][]mark{p.key}
		return h
	}
	end := width
	for _, m := range p.key {
		if end+h.wide(m) > width+afterWords {
			h.key, end = append(h.key, nil), 0
		}
		last := len(h.key) - 1
		h.key[last] = append(h.key[last], m)
		end += h.wide(m)
	}
	return h
}

// wide is the width of a mark with its words.
func (h head) wide(m mark) vg.Length { return beforeWords + h.words.Width(m.words) + afterWords }

func (h head) height() vg.Length {
	lines := len(h.lines)
	if !h.beside {
		lines += len(h.key)
	}
	return vg.Length(lines)*h.step + afterHeading
}

func (h head) draw(c draw.Canvas, top vg.Length) {
	at := vg.Point{X: c.Min.X, Y: top}
	below := h.fill(c, at)
	for _, marks := range h.key {
		if h.beside {
			at.X = c.Max.X + afterWords
			for _, m := range marks {
				at.X -= h.wide(m)
			}
		} else {
			at = vg.Point{X: c.Min.X, Y: below}
			below -= h.step
		}
		for _, m := range marks {
			m.shape.at(c, vg.Point{X: at.X + 6, Y: at.Y - h.words.Font.Size*0.6}, 0)
			c.FillText(h.words, vg.Point{X: at.X + beforeWords, Y: at.Y}, m.words)
			at.X += h.wide(m)
		}
	}
}

package plots

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/parts"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Findings is what the figures are drawn from. What was not found is nil, and its figure
// then says how to record it.
type Findings struct {
	Record    sessions.Record // events, checks and air, for the figure of days
	Spring    *spring.Result  // that the figures show
	Others    []spring.Result // those of the other parts, on the sheet alone
	Rate      *beat.Result
	Stability *stability.Result // nil: the short table in Rate, if there is one
	Going     *going.Result
	Fits      []parts.Result // pivots, wheels and pendulums; on the sheet alone
	Units     quantity.System
	// Width is the room for a figure in CSS pixels, MinWidth to MaxWidth; 0 is that of a
	// page of paper. For less than a page's 642 a figure is laid out anew: what stands side
	// by side on paper stands in a column, and words keep a size that can be read. A wider
	// one is the page's drawing, to be scaled.
	Width int
}

// Limits of Findings.Width, in CSS pixels.
const (
	MinWidth = 320
	MaxWidth = 4096
)

// Figure is a drawing that can be written in any of the formats. Drawing it again gives the
// same picture. Several goroutines may draw it at once.
type Figure struct {
	Kind  string // as Kinds lists it
	Title string // the finding in words
	Note  string // what else must be known to read the figure
	Desc  string // what one would see, for those who can't

	id     string // on a page; the kind, unless a page has several of it
	layout layout
	bare   bool                // title and note aren't drawn: they stand beside it
	height vg.Length           // of what is drawn
	draw   func(c draw.Canvas) // on the canvas below title and note
}

type kind struct {
	name string
	make func(Findings) (Figure, error)
}

// kinds is the table of all figures: a new one is a new file and one line here.
func kinds() []kind {
	return []kind{
		{"barrel", drawBarrel},
		{"turns", drawTurns},
		{"beat", drawBeat},
		{"wheels", drawWheels},
		{"stability", drawStability},
		{"going", drawGoing},
	}
}

// Kinds lists the kinds of figure, in the order in which help names them.
func Kinds() []string {
	var names []string
	for _, k := range kinds() {
		names = append(names, k.name)
	}
	return names
}

// Draw returns the figure of a kind. If nothing was recorded that it could show, the figure
// says so and how to go on. It fails for an unknown kind, and names the known ones, and for
// findings that no measurement gives, such as NaN.
func Draw(name string, f Findings) (Figure, error) {
	i := slices.IndexFunc(kinds(), func(k kind) bool { return k.name == name })
	if i < 0 {
		return Figure{}, fmt.Errorf("figure %q is not known: there are %s", name, strings.Join(Kinds(), ", "))
	}
	if f.Width != 0 && (f.Width < MinWidth || f.Width > MaxWidth) {
		return Figure{}, fmt.Errorf("figure %s: %d pixels wide: ask for %d to %d", name, f.Width, MinWidth, MaxWidth)
	}
	fig, err := kinds()[i].make(f)
	if err != nil {
		return Figure{}, fmt.Errorf("figure %s: %w", name, err)
	}
	fig.Kind, fig.id, fig.layout = name, name, f.layout()
	return fig, nil
}

// empty is the figure for what hasn't been recorded. It says how to record it.
func empty(what, remedy string) Figure {
	return Figure{
		Title:  "Nothing recorded yet: " + what,
		Note:   remedy,
		Desc:   "An empty frame. " + remedy,
		height: 60,
		draw: func(c draw.Canvas) {
			frame := []vg.Point{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max, {X: c.Min.X, Y: c.Max.Y}, c.Min}
			c.StrokeLines(line(rule, 1, 4, 3), frame)
			style := aligned(letters(onPaper.word, faded), text.XCenter, text.YCenter)
			c.FillText(style, c.Center(), "the figure will stand here")
		},
	}
}

// paragraph is words set in lines, and the height of each.
type paragraph struct {
	style text.Style
	lines []string
	step  vg.Length
}

// above are the paragraphs over the drawing: title and note.
func (f Figure) above() []paragraph {
	if f.bare {
		return nil
	}
	width := f.layout.width - 2*margin
	return []paragraph{
		balanced(bold(letters(f.layout.title, ink)), f.Title, width, 1.25),
		balanced(letters(f.layout.note, faded), f.Note, width, 1.35),
	}
}

const afterParagraph = 6 // points

// size is that of the whole figure.
func (f Figure) size() (width, height vg.Length) {
	height = f.height + 2*margin
	for _, p := range f.above() {
		height += p.height() + afterParagraph
	}
	return f.layout.width, height
}

// paint draws title, note and figure on a canvas of the figure's size.
func (f Figure) paint(canvas vg.Canvas) {
	width, height := f.size()
	c := draw.Crop(draw.NewCanvas(canvas, width, height), margin, -margin, margin, -margin)
	at := vg.Point{X: c.Min.X, Y: c.Max.Y}
	for _, p := range f.above() {
		at.Y = p.fill(c, at) - afterParagraph
	}
	f.draw(draw.Crop(c, 0, 0, 0, c.Min.Y+f.height-c.Max.Y))
}

func (p paragraph) height() vg.Length { return p.step * vg.Length(len(p.lines)) }

// fill sets the lines from a point downwards, and returns where they end.
func (p paragraph) fill(c draw.Canvas, at vg.Point) vg.Length {
	p.style.YAlign = text.YTop
	for _, l := range p.lines {
		c.FillText(p.style, at, l)
		at.Y -= p.step
	}
	return at.Y
}

// balanced cuts words into lines no wider than so much, and as narrow as the same number of
// lines allows, so that no word is alone in the last. A longer word, or a value with its
// interval, stays whole.
func balanced(s text.Style, words string, width vg.Length, leading float64) paragraph {
	all := quantity.Words(printable(words))
	wide := make([]vg.Length, len(all)) // measured once: that takes longer than all the rest
	for i, w := range all {
		wide[i] = s.Width(w)
	}
	space := s.Width(" ")
	lines := wrap(all, wide, space, width)
	for w := width - 6; w > width/2; w -= 6 {
		narrower := wrap(all, wide, space, w)
		if len(narrower) > len(lines) {
			break
		}
		lines = narrower
	}
	return paragraph{s, lines, s.Font.Size * vg.Length(leading)}
}

// wrap cuts words, whose widths are given, into lines no wider than so much.
func wrap(words []string, wide []vg.Length, space, width vg.Length) (lines []string) {
	var end vg.Length // of the last line
	for i, w := range words {
		last := len(lines) - 1
		if last < 0 || end+space+wide[i] > width {
			lines, end = append(lines, w), wide[i]
			continue
		}
		lines[last] += " " + w
		end += space + wide[i]
	}
	return lines
}

// printable is what a drawing can hold of a text: one line, and nothing that can't be
// seen.
func printable(s string) string {
	return quantity.Visible(strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == '\t' || r == '\n' }), " "))
}

// beyond is larger than any value of a clock. In a drawing, sums with larger ones overflow.
const beyond = 1e15

// sound reports whether a number can be drawn.
func sound(v float64) bool { return math.Abs(v) < beyond } // false for NaN

// certain reports whether a value can be drawn with its interval.
func certain(v quantity.Value) bool { return sound(v.Low95()) && sound(v.High95()) }

// told reports whether a finding is there and can be drawn.
func told(v *quantity.Value) bool { return v != nil && certain(*v) }

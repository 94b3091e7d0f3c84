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
}

// Figure is a drawing that can be written in any of the formats. Drawing it again gives the
// same picture. Several goroutines may draw it at once.
type Figure struct {
	Kind  string // as Kinds lists it
	Title string // the finding in words
	Note  string // what else must be known to read the figure
	Desc  string // what one would see, for those who can't

	id     string // on a page; the kind, unless a page has several of it
	height vg.Length
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
	fig, err := kinds()[i].make(f)
	if err != nil {
		return Figure{}, fmt.Errorf("figure %s: %w", name, err)
	}
	fig.Kind, fig.id = name, name
	return fig, nil
}

// empty is the figure for what hasn't been recorded. It says how to record it.
func empty(what, remedy string) Figure {
	return Figure{
		Title:  "Nothing recorded yet: " + what,
		Note:   remedy,
		Desc:   "An empty frame. " + remedy,
		height: 130,
		draw: func(c draw.Canvas) {
			frame := []vg.Point{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max, {X: c.Min.X, Y: c.Max.Y}, c.Min}
			c.StrokeLines(line(rule, 1, 4, 3), frame)
			style := aligned(letters(wordSize, faded), text.XCenter, text.YCenter)
			c.FillText(style, c.Center(), "the figure will stand here")
		},
	}
}

// paint draws title, note and figure on a canvas of the figure's size.
func (f Figure) paint(canvas vg.Canvas) {
	c := draw.Crop(draw.NewCanvas(canvas, figureWidth, f.height), margin, -margin, margin, -margin)
	y := paragraph(c, bold(letters(titleSize, ink)), c.Max.Y, 1.25, f.Title)
	y = paragraph(c, letters(noteSize, faded), y-2, 1.35, f.Note)
	f.draw(draw.Crop(c, 0, 0, 0, y-9-c.Max.Y))
}

// paragraph sets words in lines no wider than the canvas, from y downwards, and returns
// where it ends.
func paragraph(c draw.Canvas, s text.Style, y vg.Length, leading float64, words string) vg.Length {
	s.YAlign = text.YTop
	step := s.Font.Size * vg.Length(leading)
	width := c.Max.X - c.Min.X
	lines := wrap(s, words, width)
	// As narrow as the same number of lines allows, so that no word is alone in the last.
	for w := width - 6; w > width/2; w -= 6 {
		narrower := wrap(s, words, w)
		if len(narrower) > len(lines) {
			break
		}
		lines = narrower
	}
	for _, l := range lines {
		c.FillText(s, vg.Point{X: c.Min.X, Y: y}, l)
		y -= step
	}
	return y
}

// wrap cuts words into lines no wider than so much. A longer word, or a value with its
// interval, stays whole.
func wrap(s text.Style, words string, width vg.Length) []string {
	var lines []string
	var last string
	for _, w := range quantity.Words(printable(words)) {
		longer := w
		if last != "" {
			longer = last + " " + w
		}
		if last != "" && s.Width(longer) > width {
			lines = append(lines, last)
			longer = w
		}
		last = longer
	}
	if last != "" {
		lines = append(lines, last)
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

package plots

import (
	"slices"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// within returns the events that fall on the figure, in order of time.
func within(events []sessions.Event, d days) []sessions.Event {
	var in []sessions.Event
	for _, e := range events {
		if x := d.of(e.At); x >= 0 && x <= d.end {
			in = append(in, e)
		}
	}
	slices.SortStableFunc(in, func(a, b sessions.Event) int { return a.At.Compare(b.At) })
	return in
}

// eventWords describes an event in few words: "adjusted +0.5 turns".
func eventWords(e sessions.Event) string {
	s := e.Kind
	if e.HasTurns && sound(e.Turns) {
		s += " " + quantity.SignedTurns(e.Turns, 3)
	}
	if e.Kind == sessions.EventRemark && e.Text != "" {
		s = e.Text
		if r := []rune(s); len(r) > 28 {
			s = string(r[:27]) + "…"
		}
	}
	return printable(s)
}

// dialWords describes the error of a dial: "3.2 ± 0.5 s fast".
func dialWords(v quantity.Value) string {
	switch {
	case v.Low95() > 0:
		return v.Text("s") + " fast"
	case v.High95() < 0:
		return v.Scale(-1).Text("s") + " slow"
	}
	return "right within " + v.Signed("s")
}

// eventLines marks the events by faint vertical lines.
func eventLines(c draw.Canvas, events []sessions.Event, d days, x func(float64) vg.Length) {
	for _, e := range events {
		at := x(d.of(e.At))
		c.StrokeLine2(line(rust, 0.5, 1.5, 2), at, c.Min.Y, at, c.Max.Y)
	}
}

// lane sets the events' words above a plot in a few rows, so that none covers another. An
// event for which no row has room keeps its line, and the figure's description names it.
type lane struct {
	layout layout
	rows   int
}

func (l lane) row() vg.Length { return vg.Points(1.2 * l.layout.word) }

func (l lane) height() vg.Length { return vg.Length(l.rows)*l.row() + 2 }

// label is where the words of an event stand: their row, and their left end.
type label struct {
	words   string
	at      vg.Length // of the event's line
	from, w vg.Length
	row     int
}

func (l lane) draw(c draw.Canvas, events []sessions.Event, d days, x func(float64) vg.Length) {
	eventLines(c, events, d, x)
	s := aligned(l.layout.words(rust), text.XLeft, text.YBottom)
	all := l.place(c, s, events, d, x)
	for _, one := range all {
		y := c.Max.Y + 3 + vg.Length(one.row)*l.row()
		below := c.Max.Y
		for row := range one.row {
			top := c.Max.Y + 3 + vg.Length(row+1)*l.row()
			// A line through the words of another event makes them hard to read.
			if !slices.ContainsFunc(all, func(o label) bool {
				return o.row == row && o.from-1 < one.at && one.at < o.from+o.w+1
			}) {
				c.StrokeLine2(line(rust, 0.5, 1.5, 2), one.at, below, one.at, top)
			}
			below = top
		}
		// A comma or a p reaches below the row.
		if end := y - vg.Points(0.2*l.layout.word); end > below {
			c.StrokeLine2(line(rust, 0.5, 1.5, 2), one.at, below, one.at, end)
		}
		c.FillText(s, vg.Point{X: one.from, Y: y}, one.words)
	}
}

// place finds the lowest row with room for the words of each event. Those for which none
// has room are left out.
func (l lane) place(c draw.Canvas, s draw.TextStyle, events []sessions.Event, d days, x func(float64) vg.Length) []label {
	taken := make([]vg.Length, l.rows) // where the words of each row end
	for i := range taken {
		taken[i] = c.Min.X - 20
	}
	var all []label
	for _, e := range events {
		words := eventWords(e)
		at, w := x(d.of(e.At)), s.Width(words)
		from := min(max(at-w/2, c.Min.X-16), c.Max.X-w)
		row := slices.IndexFunc(taken, func(end vg.Length) bool { return end+5 <= from })
		if row < 0 {
			continue
		}
		taken[row] = from + w
		all = append(all, label{words, at, from, w, row})
	}
	return all
}

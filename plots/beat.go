package plots

import (
	"fmt"
	"slices"
	"strings"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var (
	halfShape = shape{form: square, color: steel}
	restShape = shape{form: stem, color: steel}
)

// drawBeat answers: does the clock go evenly, and did anything disturb it? The first panel
// shows how late the beats came against the best even beat, in milliseconds. They are
// gathered in columns: a thick bar holds the middle half of a column's beats, and a thin
// line goes to its earliest and its latest, so that a single late beat is seen. The next
// panel, if there are any, shows the rate over short windows, in s/day. Both are over true
// time since the first beat. The last shows tick and tock as two lengths, in milliseconds.
// A panel that has nothing to show is left out.
func drawBeat(f Findings) (Figure, error) {
	if f.Rate == nil || !slices.ContainsFunc(f.Rate.Trace, drawableBeat) {
		return empty("no beats were timed", "Time the clock with evenbeat time --port auto, or give a file to evenbeat rate --beats FILE."), nil
	}
	r, l := *f.Rate, f.layout()
	unit, units, size := spanUnit(r.Trace)
	breaks := breaksOf(r.Trace, size)
	all := panels{l, []panel{l.latePanel(r.Trace, size, breaks)}}
	desc := fmt.Sprintf("Panels over %s of true time. Above, how late %d beats came", units, r.Beats)
	if ws := shortWindows(r); ws != nil {
		p := l.shortPanel(r, ws, size, breaks)
		p.plot.x.min, p.plot.x.max = all.all[0].plot.x.min, all.all[0].plot.x.max // what came at one time stands in one line
		all.all = append(all.all, p)
		desc += fmt.Sprintf("; then the rate over each of %d windows of %s", len(ws), quantity.SpanText(ws[0].SpanS))
	}
	all.all[len(all.all)-1].axis = "time, " + unit
	if rows := tickAndTock(r); rows != nil {
		all.all = append(all.all, l.bars("Tick and tock, ms", "time to the next beat, ms", rows))
		desc += "; below, the time from tick to tock and from tock to tick as two bars"
	}
	return Figure{Title: beatTitle(r), Note: beatNote(r), Desc: desc + ".", height: all.height(), draw: all.draw}, nil
}

// breaksOf returns the times of breaks, in units of so many seconds.
func breaksOf(trace []beat.TracePoint, size float64) (breaks []float64) {
	for _, t := range trace {
		if x := t.TimeS / size; t.After && x > 0 && sound(x) {
			breaks = append(breaks, x)
		}
	}
	return breaks
}

// beatsToColumn is how many beats a column holds at least, unless they are fewer in all.
const beatsToColumn = 8

// latePanel shows how late the beats came, over time in units of so many seconds.
func (l layout) latePanel(trace []beat.TracePoint, size float64, breaks []float64) panel {
	end, ys := 0.0, []float64{}
	for _, t := range trace {
		if drawableBeat(t) {
			end, ys = max(end, t.TimeS), append(ys, t.ResidualS*1e3)
		}
	}
	columns := min(max(1, len(ys)/beatsToColumn), int(l.choose(60, 36)))
	p := l.axes()
	p.x.span(1, 0, end/size)
	p.y.span(0.1, ys...)
	p.x.min = 0
	p.add(grid(p), drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		breakLines(c, breaks, x)
		half := max(0.8, (x(end/size)-x(0))/vg.Length(columns)*0.3)
		for _, s := range spreads(trace, end, columns) {
			at, low, high := x(s.at/size), y(s.lower)-0.4, y(s.upper)+0.4
			c.StrokeLine2(line(steel, 0.7), at, y(s.low), at, y(s.high))
			c.FillPolygon(steel, []vg.Point{{X: at - half, Y: low}, {X: at + half, Y: low}, {X: at + half, Y: high}, {X: at - half, Y: high}})
		}
	}))
	return panel{heading: "Late (+) or early (−) against an even beat, ms", height: l.choose(105, 140), plot: p,
		key: []mark{{halfShape, "the middle half"}, {restShape, "earliest to latest"}}}
}

// breakLines marks where beats were no longer heard.
func breakLines(c draw.Canvas, breaks []float64, x func(float64) vg.Length) {
	for _, b := range breaks {
		c.StrokeLine2(line(rust, 0.7, 3, 2), x(b), c.Min.Y, x(b), c.Max.Y)
	}
}

// tickAndTock are the two lengths, in milliseconds; nil where one side wasn't heard. The
// two differ from the mean by half their difference each.
func tickAndTock(r beat.Result) (rows []barRow) {
	if !(r.TickTock.U > 0) || !certain(r.TickTock.Scale(1e3)) || !sound(r.IntervalS*1e3) {
		return nil
	}
	for _, row := range []struct {
		words  string
		half   float64
		filled bool
	}{{"tick to tock", 0.5e3, true}, {"tock to tick", -0.5e3, false}} {
		v := r.TickTock.Scale(row.half)
		v.V += r.IntervalS * 1e3
		rows = append(rows, barRow{row.words + ", " + v.Text("ms"), v, row.filled})
	}
	return rows
}

func beatTitle(r beat.Result) string {
	return rateWords(r) + "; " + evennessWords(r)
}

// rateWords says whether the clock gains or loses.
func rateWords(r beat.Result) string {
	q := r.Rate.Value
	if !certain(q) || !(q.U > 0) || q.High95() <= q.Low95() {
		return "The rate cannot be told yet"
	}
	return "The clock " + q.GainText("gains", "loses")
}

func evennessWords(r beat.Result) string {
	e := r.BeatError.Scale(1e3)
	switch in, told := r.InBeat(); {
	case !told || !certain(e):
		return "whether it is in beat cannot be told yet"
	case in:
		return "in beat, " + e.Text("ms") + " off"
	}
	return "out of beat by " + e.Text("ms")
}

func beatNote(r beat.Result) string {
	s := []string{fmt.Sprintf("%d beats heard, %s.", r.Beats, r.Counts())}
	if told(&r.Rate.Value) && r.Rate.U > 0 {
		s = append(s, "The rate is "+r.Rate.FullSigned("s/day")+".")
	}
	if certain(r.BeatError) && r.BeatError.U > 0 {
		s = append(s, "The beat error, half the difference of tick and tock, is "+r.BeatError.Scale(1e3).Full("ms")+".")
	}
	if shortWindows(r) != nil {
		s = append(s, "A window's bar shows the scatter of the beats alone; the error of the time base is common to all.")
	}
	if r.Segments > 1 {
		s = append(s, fmt.Sprintf("A dashed vertical line marks where the beat was lost (%d stretches).", r.Segments))
	}
	return strings.Join(append(s, "± is the 95 % interval."), " ")
}

// spanUnit returns the best unit for the time of a trace, as an axis and as a sentence
// names it, and its size in seconds.
func spanUnit(trace []beat.TracePoint) (unit, units string, size float64) {
	seconds := trace[len(trace)-1].TimeS
	switch {
	case seconds <= 300:
		return "s", "seconds", 1
	case seconds <= 3*3600:
		return "min", "minutes", 60
	case seconds <= 3*86400:
		return "h", "hours", 3600
	}
	return "days", "days", 86400
}

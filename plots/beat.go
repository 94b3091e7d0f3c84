package plots

import (
	"fmt"
	"strings"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var (
	tickShape = shape{form: dot, color: steel, size: 1.3}
	tockShape = shape{form: diamond, color: brass, size: 2}
)

// beatColumns is how many columns a trace is thinned to: about one for each point of the
// figure's width.
const beatColumns = 420

// drawBeat answers: does the clock go evenly, and did anything disturb it? The first
// panel shows how late each beat came against the best even beat, in milliseconds. The
// next, if there are any, shows the rate over short windows, in s/day. The last shows the
// time since the beat before, in milliseconds. Ticks are dots, tocks diamonds. The
// horizontal axis is true time since the first beat.
func drawBeat(f Findings) (Figure, error) {
	if f.Rate == nil || len(f.Rate.Trace) == 0 {
		return empty("no beats were timed", "Time the clock with evenbeat time --port auto, or give a file to evenbeat rate --beats FILE."), nil
	}
	r := *f.Rate
	unit, units, size := spanUnit(r.Trace)
	late, halves, breaks := traces(r.Trace, size)

	upper := beatPanel("Late (+) or early (−) against an even beat, ms", late, breaks, 0.1)
	upper.key = []mark{{tickShape, "tick"}, {tockShape, "tock"}}
	lower := beatPanel("Time since the beat before, ms", halves, breaks, 0.1)
	lower.plot.X.Label.Text = "time, " + unit
	panels, height, short := []panel{upper, lower}, vg.Length(330), ""
	if ws := shortWindows(r); ws != nil {
		panels, height = []panel{upper, shortPanel(r, ws, size, breaks), lower}, 400
		short = fmt.Sprintf("then the rate over each of %d windows of %s; ", len(ws), quantity.SpanText(ws[0].SpanS))
	}
	for _, p := range panels[1:] { // what came at one time stands in one line
		p.plot.X.Min, p.plot.X.Max = upper.plot.X.Min, upper.plot.X.Max
	}
	return Figure{
		Title: beatTitle(r),
		Note:  beatNote(r),
		Desc: fmt.Sprintf("Panels over %s of true time. Above, how late each of %d beats came, ticks and tocks apart; "+
			"%sbelow, the time since the beat before.", units, r.Beats, short),
		height: height,
		draw:   func(c draw.Canvas) { stack(c, panels...) },
	}, nil
}

// pair holds a series of ticks and one of tocks.
type pair struct{ ticks, tocks []point }

// traces splits a trace into what the two panels show, in milliseconds over time in units
// of so many seconds, and the times of breaks. After a missed beat there is no interval.
func traces(trace []beat.TracePoint, size float64) (late, halves pair, breaks []float64) {
	for _, t := range trace {
		x := t.TimeS / size
		add(&late, t.Odd, point{x, t.ResidualS * 1e3})
		if t.HalfS > 0 && !t.After {
			add(&halves, t.Odd, point{x, t.HalfS * 1e3})
		}
		if t.After && x > 0 && sound(x) {
			breaks = append(breaks, x)
		}
	}
	for _, s := range []*pair{&late, &halves} {
		s.ticks, s.tocks = thin(s.ticks, beatColumns), thin(s.tocks, beatColumns)
	}
	return late, halves, breaks
}

func add(s *pair, odd bool, p point) {
	if odd {
		s.tocks = append(s.tocks, p)
		return
	}
	s.ticks = append(s.ticks, p)
}

func beatPanel(title string, s pair, breaks []float64, least float64) panel {
	p := axes()
	var xs, ys []float64
	for _, q := range append(append([]point(nil), s.ticks...), s.tocks...) {
		xs, ys = append(xs, q.x), append(ys, q.y)
	}
	span(&p.X, 1, append(xs, 0)...)
	span(&p.Y, least, ys...)
	p.X.Min = 0
	p.Add(grid(p), drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		breakLines(c, breaks, x)
		places := func(points []point) (out []vg.Point) {
			for _, q := range points {
				out = append(out, vg.Point{X: x(q.x), Y: y(q.y)})
			}
			return out
		}
		tockShape.series(c, places(s.tocks))
		tickShape.series(c, places(s.ticks))
	}))
	return panel{heading: title, share: 1, plot: p}
}

// breakLines marks where beats were no longer heard.
func breakLines(c draw.Canvas, breaks []float64, x func(float64) vg.Length) {
	for _, b := range breaks {
		c.StrokeLine2(line(rust, 0.7, 3, 2), x(b), c.Min.Y, x(b), c.Max.Y)
	}
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
	if certain(r.TickTock) && r.TickTock.U > 0 {
		s = append(s, "The beat error is half the difference of the two intervals, which is "+r.TickTock.Scale(1e3).Signed("ms")+".")
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

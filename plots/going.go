package plots

import (
	"fmt"
	"math"
	"time"

	"evenbeat/analysis/going"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var (
	checkShape = shape{form: dot, color: steel, size: 2}
	dailyShape = shape{form: upright, color: steel, size: 2}
)

// days is the horizontal axis: days since the start, labelled with dates in the clock's
// zone. Unix times in ns would be too large for float64 to tell two checks apart.
type days struct {
	start time.Time
	end   float64
}

func (d days) of(t time.Time) float64 { return t.Sub(d.start).Seconds() / 86400 }

// drawGoing answers: how did the clock keep time over days, and what happened to it? The
// first panel shows the error of its dial in seconds, plus = fast, at each check, with the
// line that analysis draws through them. The next shows the rate day by day in s/day with
// 95 % intervals, the last the temperature if it was recorded. What was done to the clock
// is named at the top, with a line through all panels.
func drawGoing(f Findings) (Figure, error) {
	curve := checkCurve(f)
	if f.Going == nil || len(curve) == 0 {
		return empty("the dial was not compared with a reference",
			"Run evenbeat check --error +7.5s now, and again after a day or more."), nil
	}
	g := *f.Going
	zone, err := time.LoadLocation(f.Record.Clock.Zone)
	if err != nil {
		zone = time.UTC
	}
	d := days{start: curve[0].At.In(zone)}
	d.end = d.of(curve[len(curve)-1].At)
	events := within(f.Record.Events, d)

	l := f.layout()
	all := panels{l, []panel{l.errorPanel(curve, d, events)}}
	if len(g.Daily) > 0 {
		all.all = append(all.all, l.ratePanel(g, d, events))
	}
	if p, ok := l.airPanel(f.Record.Air, d, events); ok {
		all.all = append(all.all, p)
	}
	for i, p := range all.all {
		p.plot.x.min, p.plot.x.max = -0.02*max(d.end, 1), d.end+0.02*max(d.end, 1)
		p.plot.x.ticks = dayTicks{start: d.start, bare: i < len(all.all)-1, few: l.narrow}
	}
	return Figure{
		Title:  goingTitle(g),
		Note:   goingNote(g),
		Desc:   goingDesc(g, events),
		height: all.height(),
		draw:   all.draw,
	}, nil
}

// checkCurve is the analysed curve, or the bare checks if there were too few to analyse.
func checkCurve(f Findings) []going.CurvePoint {
	if f.Going != nil && len(f.Going.Curve) > 0 {
		return f.Going.Curve
	}
	var out []going.CurvePoint
	for _, c := range f.Record.Checks {
		out = append(out, going.CurvePoint{At: c.At, ErrorS: c.ErrorS, ModelS: math.NaN()})
	}
	return out
}

func goingTitle(g going.Result) string {
	if !told(g.MeanRate) {
		return "One check does not make a rate yet: compare the dial again after a day or more"
	}
	s := "The clock " + g.MeanRate.GainText("gained", "lost")
	if n := len(g.Segments); n > 1 && told(g.RateNow) && g.Segments[n-1].After != "" {
		// The mean over all is of rates that it never went at.
		s = "Since " + going.Was("it", g.Segments[n-1].After) + " the clock " + g.RateNow.GainText("gains", "loses")
	} else if sound(g.SpanDays) && g.SpanDays < 2 {
		s += " over " + quantity.SpanText(g.SpanDays*86400)
	} else if sound(g.SpanDays) {
		s += fmt.Sprintf(" over %.3g days", g.SpanDays)
	}
	if told(g.ErrorNow) {
		s += "; dial now " + dialWords(*g.ErrorNow)
	}
	return s
}

func goingNote(g going.Result) string {
	s := fmt.Sprintf("%d %s. ± and the thin bars are 95 %% intervals.", g.Checks, quantity.Plural(int64(g.Checks), "check", "checks"))
	if told(g.MeanRate) {
		s += " The mean rate is " + g.MeanRate.FullSigned("s/day") + "."
	}
	switch {
	case !told(g.Trend):
	case g.Trend.Covers(0):
		s += " No steady change of the rate can be told."
	default:
		s += " The rate itself changes by " + g.Trend.Signed("s/day each day") + "."
	}
	return s
}

func goingDesc(g going.Result, events []sessions.Event) string {
	s := fmt.Sprintf("Error of the dial at %d %s and %d daily %s.", g.Checks, quantity.Plural(int64(g.Checks), "check", "checks"), len(g.Daily), quantity.Plural(int64(len(g.Daily)), "rate", "rates"))
	for _, e := range events {
		s += " " + e.At.UTC().Format("2 January 15:04") + " UTC: " + eventWords(e) + "."
	}
	return s
}

func (l layout) errorPanel(curve []going.CurvePoint, d days, events []sessions.Event) panel {
	p := l.axes()
	p.y.ticks = evenTicks{sign: true}
	ys := []float64{0}
	for _, q := range curve {
		ys = append(ys, q.ErrorS, q.ModelS)
	}
	p.y.span(0.5, ys...)
	labels := lane{l, min(int(l.choose(3, 4)), len(events))}
	p.add(grid(p), drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		c.StrokeLine2(line(faded, 0.6), c.Min.X, y(0), c.Max.X, y(0))
		labels.draw(c, events, d, x)
		drawModel(c, curve, d, x, y)
		for _, q := range curve {
			if sound(q.ErrorS) {
				checkShape.at(c, vg.Point{X: x(d.of(q.At)), Y: y(q.ErrorS)}, 0)
			}
		}
	}))
	pan := panel{heading: "Error of the dial, s (+ = fast)", height: l.choose(112, 140), plot: p,
		key: []mark{{checkShape, "check"}, {shape{form: bar, color: brass, size: 1.4}, "at its mean rate"}}}
	if len(events) > 0 {
		pan.lane = labels.height()
	}
	return pan
}

// drawModel draws the modelled error, broken where a new stretch begins.
func drawModel(c draw.Canvas, curve []going.CurvePoint, d days, x, y func(float64) vg.Length) {
	var path []vg.Point
	for i, q := range curve {
		if i > 0 && q.Segment != curve[i-1].Segment || !sound(q.ModelS) {
			c.StrokeLines(line(brass, 1.4), path)
			path = nil
		}
		if sound(q.ModelS) {
			path = append(path, vg.Point{X: x(d.of(q.At)), Y: y(q.ModelS)})
		}
	}
	c.StrokeLines(line(brass, 1.4), path)
}

func (l layout) ratePanel(g going.Result, d days, events []sessions.Event) panel {
	p := l.axes()
	p.y.ticks = evenTicks{sign: true, aim: 4}
	ys := []float64{0}
	for _, r := range g.Daily {
		if !certain(r.Rate) {
			continue
		}
		ys = append(ys, r.Rate.Low95(), r.Rate.High95())
	}
	p.y.span(0.2, ys...)
	p.add(grid(p), drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		c.StrokeLine2(line(faded, 0.6), c.Min.X, y(0), c.Max.X, y(0))
		eventLines(c, events, d, x)
		for _, s := range g.Segments {
			if certain(s.Rate) {
				lines := c.ClipLinesXY([]vg.Point{{X: x(d.of(s.From)), Y: y(s.Rate.V)}, {X: x(d.of(s.To)), Y: y(s.Rate.V)}})
				c.StrokeLines(line(brass, 1.4), lines...)
			}
		}
		for _, r := range g.Daily {
			if !certain(r.Rate) {
				continue
			}
			from, to, at := x(d.of(r.From)), x(d.of(r.To)), y(r.Rate.V)
			c.StrokeLine2(line(steel, 0.8), from+1, at, to-1, at)
			mid := vg.Point{X: (from + to) / 2, Y: at}
			if r.Rate.U > 0 {
				interval(c, steel, mid.X, y(r.Rate.Low95()), y(r.Rate.High95()))
			}
			shape{form: dot, color: steel, size: dailyShape.size}.at(c, mid, 0)
		}
	}))
	return panel{heading: "Rate from check to check, s/day (+ = gains)", height: l.choose(104, 120), plot: p,
		key: []mark{{dailyShape, "one day, 95 %"}, {shape{form: bar, color: brass, size: 1.4}, "mean of a stretch"}}}
}

// airPanel shows the temperature, if it was recorded at least twice.
func (l layout) airPanel(air []sessions.Air, d days, events []sessions.Event) (panel, bool) {
	var points []point
	for _, a := range air {
		if x := d.of(a.At); a.HasTemperature && sound(a.TemperatureC) && x >= 0 && x <= d.end {
			points = append(points, point{x, a.TemperatureC})
		}
	}
	points = thin(points, 420)
	if len(points) < 2 {
		return panel{}, false
	}
	p := l.axes()
	p.y.ticks = evenTicks{aim: 2}
	var ys []float64
	for _, q := range points {
		ys = append(ys, q.y)
	}
	p.y.span(1, ys...)
	p.add(grid(p), drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		eventLines(c, events, d, x)
		var path []vg.Point
		for _, q := range points {
			path = append(path, vg.Point{X: x(q.x), Y: y(q.y)})
		}
		c.StrokeLines(line(faded, 0.8), path)
	}))
	return panel{heading: "Temperature, °C", height: l.choose(48, 70), plot: p}, true
}

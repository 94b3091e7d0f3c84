package plots

import (
	"cmp"
	"fmt"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

var (
	oadevShape = shape{form: upright, color: steel, size: 2.1}
	mdevShape  = shape{form: diamond, color: brass, size: 2.3}
)

const ppm = 1e6

// drawStability answers: over what time is the clock steadiest, and what disturbs it? It
// shows the overlapping Allan deviation of its rate with 68 % intervals, and the modified
// one, over the averaging time in seconds, on logarithmic axes. The left axis is in parts
// per million, the right in s/day. The words at the top name the dominant noise.
func drawStability(f Findings) (Figure, error) {
	rows := stabilityRows(f)
	if len(rows) == 0 {
		return empty("no table of stability", "Time the clock for longer, or give a file to evenbeat stability FILE --data phase --interval 1."), nil
	}
	l := f.layout()
	p := l.axes()
	var taus, devs []float64
	modified := false
	for _, r := range rows {
		taus = append(taus, r.TauS)
		for _, v := range []*float64{r.OADev, r.MDev, r.Low, r.High} {
			if positive(v) {
				devs = append(devs, *v*ppm)
			}
		}
		modified = modified || positive(r.MDev)
	}
	p.x.logSpan(taus...)
	p.y.logSpan(devs...)
	p.add(grid(p), drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		paintStability(c, rows, x, func(dev float64) vg.Length { return y(dev * ppm) })
		l.perDay(c, p)
		l.noiseWords(c, rows, x)
	}))
	pan := panel{heading: "Deviation of the rate, parts per million", lane: vg.Points(2 * l.word), right: vg.Points(4 * l.word), height: l.choose(190, 210), plot: p, axis: "averaging time, s",
		key: []mark{{oadevShape, "overlapping, 68 % interval"}}}
	if modified {
		pan.key = append(pan.key, mark{mdevShape, "modified"})
	}
	all := panels{l, []panel{pan}}
	return Figure{
		Title: cmp.Or(stability.Steadiest(rows), "Stability of the rate"),
		Note:  "How far the mean rate over one averaging time lies from that over the next (Allan deviation). The thin bars are 68 % intervals.",
		Desc: fmt.Sprintf("A logarithmic plot of %d averaging times from %s to %s.", len(rows),
			quantity.SpanText(rows[0].TauS), quantity.SpanText(rows[len(rows)-1].TauS)),
		height: all.height(),
		draw:   all.draw,
	}, nil
}

// stabilityRows are the rows of the table, or of the short one that comes with a rate. A
// row without a time or a deviation has no place in the figure.
func stabilityRows(f Findings) []stability.Row {
	var all []stability.Row
	switch {
	case f.Stability != nil:
		all = f.Stability.Rows
	case f.Rate != nil:
		for _, s := range f.Rate.Stability {
			all = append(all, rowOf(s))
		}
	}
	var rows []stability.Row
	for _, r := range all {
		if positive(&r.TauS) && (positive(r.OADev) || positive(r.MDev)) {
			rows = append(rows, r)
		}
	}
	return rows
}

func rowOf(s beat.Stability) stability.Row {
	r := stability.Row{TauS: s.TauS, N: s.N, OADev: &s.ADev}
	if s.High > s.Low && s.Low > 0 {
		r.Low, r.High = &s.Low, &s.High
	}
	return r
}

// positive reports whether a value is there and can be drawn on a logarithmic axis, which
// would panic at zero. No clock is steadier than 1e−18.
func positive(v *float64) bool { return v != nil && *v > 1e-18 && *v < beyond/ppm }

func paintStability(c draw.Canvas, rows []stability.Row, x, y func(float64) vg.Length) {
	var path []vg.Point
	for _, r := range rows {
		if positive(r.OADev) {
			path = append(path, vg.Point{X: x(r.TauS), Y: y(*r.OADev)})
		}
	}
	c.StrokeLines(line(steel, 0.7), path)
	for _, r := range rows {
		if positive(r.MDev) {
			mdevShape.at(c, vg.Point{X: x(r.TauS), Y: y(*r.MDev)}, 0)
		}
	}
	for _, r := range rows {
		if !positive(r.OADev) {
			continue
		}
		if positive(r.Low) && positive(r.High) {
			interval(c, steel, x(r.TauS), y(*r.Low), y(*r.High))
		}
		shape{form: dot, color: steel, size: oadevShape.size}.at(c, vg.Point{X: x(r.TauS), Y: y(*r.OADev)}, 0)
	}
}

// perDay marks the right edge in seconds a day.
func (l layout) perDay(c draw.Canvas, p *axes) {
	const day = 86400 / ppm
	_, y := p.places(c)
	s := aligned(l.words(faded), text.XLeft, text.YCenter)
	c.FillText(s, vg.Point{X: c.Max.X + 7, Y: c.Max.Y + 4 + s.Font.Size}, "s/day")
	for _, t := range (decadeTicks{}).Ticks(p.y.min*day, p.y.max*day) {
		at := y(t.value / day)
		if t.label == "" || at < c.Min.Y || at > c.Max.Y {
			continue
		}
		c.StrokeLine2(line(faded, 0.5), c.Max.X+1, at, c.Max.X+4, at)
		c.FillText(s, vg.Point{X: c.Max.X + 7, Y: at}, t.label)
	}
}

// noiseWords names the kind of noise above each stretch of averaging times that has room
// for the words.
func (l layout) noiseWords(c draw.Canvas, rows []stability.Row, x func(float64) vg.Length) {
	s := aligned(l.words(faded), text.XCenter, text.YBottom)
	for i := 0; i < len(rows); {
		j := i
		for j+1 < len(rows) && rows[j+1].Noise == rows[i].Noise {
			j++
		}
		from, to := x(rows[i].TauS)-8, x(rows[j].TauS)+8
		if words := string(rows[i].Noise); words != "" && s.Width(words) < to-from {
			c.StrokeLine2(line(rule, 1.2), from, c.Max.Y+4, to, c.Max.Y+4)
			c.FillText(s, vg.Point{X: (from + to) / 2, Y: c.Max.Y + 7}, words)
		}
		i = j + 1
	}
}

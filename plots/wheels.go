package plots

import (
	"fmt"
	"strconv"
	"strings"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// drawWheels answers: which arbor of the train has a periodic error, and which tooth of the
// escape wheel is off? The upper panel shows how late the beats of each tooth come through
// the escape wheel's turn, in milliseconds with 95 % intervals, and names the tooth that is
// off if one is established. The lower panel shows the amplitude of each arbor's error. A
// filled bar stands out of the noise, a hollow one doesn't.
func drawWheels(f Findings) (Figure, error) {
	if f.Rate == nil || len(f.Rate.Fold) == 0 && len(f.Rate.Wheels) == 0 {
		return empty("no wheel could be told from another",
			"Give the clock its train (evenbeat clock edit --train …) and time it for some turns of the slowest wheel in question."), nil
	}
	r := *f.Rate
	var panels []panel
	if len(r.Fold) > 0 {
		v := teeth{fold: r.Fold, each: float64(max(1, r.BeatsPerTooth)), named: offTooth(r), from: r.CountedFrom(),
			wave: r.Tooth != nil && r.Tooth.Kind != beat.ToothUnheard}
		panels = append(panels, v.panel())
	}
	height := vg.Length(200)
	if offTooth(r) != nil {
		height += 30 // for its name, in the panel and in the title
	}
	if len(r.Wheels) > 0 {
		p := arborPanel(r.Wheels)
		p.share = 0.55 + 0.1*float64(len(r.Wheels))
		panels = append(panels, p)
		height += 60 + 20*vg.Length(len(r.Wheels))
	}
	return Figure{
		Title:  wheelsTitle(r),
		Note:   "± and the thin bars are 95 % intervals. A filled bar stands out of the noise; a hollow one does not." + toothNote(r),
		Desc:   wheelsDesc(r),
		height: height,
		draw:   func(c draw.Canvas) { stack(c, panels...) },
	}, nil
}

// wheelsTitle names the tooth and the arbors that stand out.
func wheelsTitle(r beat.Result) string {
	tooth, arbors := toothTitle(offTooth(r)), arborsTitle(r.Wheels)
	switch {
	case tooth == "" && arbors != "":
		return strings.ToUpper(arbors[:1]) + arbors[1:]
	case tooth != "" && arbors != "":
		return tooth + "; " + arbors
	case tooth != "":
		return tooth
	case len(r.Wheels) == 0:
		return "The beats through one turn of the escape wheel"
	}
	return "No arbor stands out of the noise in this run"
}

// arborsTitle names the arbors that stand out; empty for none.
func arborsTitle(wheels []beat.Wheel) string {
	var found []string
	for _, w := range wheels {
		if w.Significant && certain(w.Amplitude) {
			found = append(found, fmt.Sprintf("the %s arbor (%s)", arborName(w), w.Amplitude.Scale(1e3).Text("ms")))
		}
	}
	switch len(found) {
	case 0:
		return ""
	case 1:
		return "a periodic error goes with " + found[0]
	}
	last := len(found) - 1
	return "periodic errors go with " + strings.Join(found[:last], ", ") + " and " + found[last]
}

// arborName is the wheel's name, or its place in the train.
func arborName(w beat.Wheel) string {
	if w.Name == "" {
		return "no. " + strconv.Itoa(w.Arbor)
	}
	return printable(w.Name)
}

func wheelsDesc(r beat.Result) string {
	s := fmt.Sprintf("How late beats come at %d places of the escape wheel's turn", len(r.Fold))
	if t := offTooth(r); t != nil {
		s += fmt.Sprintf(", tooth %d marked", t.Tooth)
	}
	for _, w := range r.Wheels {
		if !certain(w.Amplitude) {
			continue
		}
		s += fmt.Sprintf("; %s arbor, period %s: amplitude %s", arborName(w), quantity.SpanText(w.PeriodS), w.Amplitude.Scale(1e3).Text("ms"))
	}
	return s + "."
}

func arborPanel(wheels []beat.Wheel) panel {
	p := axes()
	ends := []float64{0}
	var names []plot.Tick
	for i, w := range wheels {
		if certain(w.Amplitude.Scale(1e3)) {
			ends = append(ends, w.Amplitude.Scale(1e3).High95())
		}
		names = append(names, plot.Tick{Value: float64(-i), Label: fmt.Sprintf("%s, %s", arborName(w), quantity.SpanText(w.PeriodS))})
	}
	span(&p.X, 0.02, ends...)
	p.X.Min = 0
	p.Y.Min, p.Y.Max = 0.4-float64(len(wheels)), 0.6
	p.Y.Tick.Marker = plot.ConstantTicks(names)
	p.X.Label.Text = "amplitude, ms"
	p.Add(drawing(func(c draw.Canvas, x, y func(float64) vg.Length) {
		for i, w := range wheels {
			if certain(w.Amplitude.Scale(1e3)) {
				arborBar(c, w, x, y(float64(-i)))
			}
		}
	}))
	return panel{heading: "Periodic error by arbor, and the time of its turn", plot: p}
}

func arborBar(c draw.Canvas, w beat.Wheel, x func(float64) vg.Length, y vg.Length) {
	const half = 5
	a := w.Amplitude.Scale(1e3)
	path := polygon(vg.Point{X: x(0), Y: y - half}, vg.Point{X: x(max(0, a.V)), Y: y - half},
		vg.Point{X: x(max(0, a.V)), Y: y + half}, vg.Point{X: x(0), Y: y + half})
	if w.Significant {
		c.SetColor(rust)
		c.Fill(path)
	}
	c.SetLineStyle(line(faded, 0.7))
	c.Stroke(path)
	if a.U > 0 {
		from, to := x(max(0, a.Low95())), x(a.High95())
		c.StrokeLine2(line(ink, 0.8), from, y, to, y)
		c.StrokeLine2(line(ink, 0.8), from, y-2.5, from, y+2.5)
		c.StrokeLine2(line(ink, 0.8), to, y-2.5, to, y+2.5)
	}
}

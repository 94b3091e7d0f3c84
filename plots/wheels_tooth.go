package plots

import (
	"fmt"
	"math"

	"evenbeat/analysis/beat"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// teeth is what the panel of the escape wheel's turn is drawn from.
type teeth struct {
	fold  []beat.FoldPoint
	each  float64     // beats to a tooth
	named *beat.Tooth // nil if none is established
	wave  bool        // the teeth were compared with the wheel's own wave
	from  string      // where the count begins
	p     *axes

	layout layout
}

// offTooth is the tooth that analysis names, nil if none is established.
func offTooth(r beat.Result) *beat.Tooth {
	t := r.Tooth
	if t == nil || !t.Significant || len(t.Beats) == 0 || !certain(t.Late) {
		return nil
	}
	return t
}

// toothTitle names the tooth that is off, and says by how much; "" for none.
func toothTitle(t *beat.Tooth) string {
	switch {
	case t == nil:
		return ""
	case t.Kind == beat.ToothUnheard:
		return fmt.Sprintf("Tooth %d of the escape wheel is missed turn after turn", t.Tooth)
	case t.Kind == beat.ToothWorst:
		return fmt.Sprintf("The teeth of the escape wheel are uneven, tooth %d most: %s", t.Tooth, beat.LateText(t.Late))
	}
	return fmt.Sprintf("Tooth %d of the escape wheel drops %s", t.Tooth, beat.LateText(t.Late))
}

// toothMark is the word beside the mark.
func toothMark(t *beat.Tooth) string {
	switch {
	case t.Kind == beat.ToothUnheard:
		return fmt.Sprintf("tooth %d: not heard", t.Tooth)
	case len(t.Beats) > 1:
		return fmt.Sprintf("tooth %d, at both pallets", t.Tooth)
	}
	return fmt.Sprintf("tooth %d", t.Tooth)
}

// toothNote says what a tooth is compared with, or that none is off.
func toothNote(r beat.Result) string {
	switch t := offTooth(r); {
	case t != nil && t.Kind != beat.ToothUnheard:
		return " How far a tooth is off is its distance from the wave."
	case r.Tooth != nil && !r.Tooth.Significant:
		return " No tooth stands out from the others."
	}
	return ""
}

// panel shows how late the beats of each tooth come, and marks the one named.
func (v teeth) panel() panel {
	v.p = v.layout.axes()
	most := 0.0
	var ys []float64
	for _, q := range v.fold {
		if r := q.ResidualS.Scale(1e3); drawable(q) {
			most, ys = max(most, v.at(q.Place)), append(ys, r.Low95(), r.High95(), q.WaveS*1e3)
		}
	}
	if v.named != nil {
		for _, b := range v.named.Beats {
			most = max(most, v.at(b))
		}
	}
	// Half a tooth and a little air before the first and after the last.
	v.p.x.min, v.p.x.max = 0.2, math.Round(most)+0.8
	v.p.x.ticks = teethTicks{}
	v.p.y.span(0.02, append(ys, 0)...)
	v.p.add(grid(v.p), drawing(v.draw))
	pan := panel{heading: "Late (+) or early (−) through one turn of the escape wheel, ms", height: v.layout.choose(110, 140), plot: v.p,
		axis: "tooth of the escape wheel, counted from " + v.from}
	if v.named != nil {
		pan.lane = vg.Points(1.7 * v.layout.word)
	}
	if v.wave {
		pan.key = []mark{{shape{form: bar, color: brass, size: 0.9}, "an eccentric wheel's wave, tick and tock"}}
	}
	return pan
}

func drawable(q beat.FoldPoint) bool {
	return sound(float64(q.Place)) && certain(q.ResidualS.Scale(1e3))
}

// at is the place of a beat on the axis of teeth, near its tooth's number.
func (v teeth) at(beat int) float64 { return (float64(beat)+0.5)/v.each + 0.5 }

func (v teeth) draw(c draw.Canvas, x, y func(float64) vg.Length) {
	c.StrokeLine2(line(faded, 0.6), c.Min.X, y(0), c.Max.X, y(0))
	var waves [2][]vg.Point // ticks and tocks have a level each
	for _, q := range v.fold {
		if w := q.WaveS * 1e3; v.wave && drawable(q) && sound(w) {
			waves[q.Place&1] = append(waves[q.Place&1], vg.Point{X: x(v.at(q.Place)), Y: y(w)})
		}
	}
	c.StrokeLines(line(brass, 0.9), waves[:]...)
	ends := map[int]vg.Length{} // how far down a mark's line goes, by beat
	if v.named != nil {
		for _, b := range v.named.Beats {
			ends[b] = c.Min.Y
		}
	}
	for _, q := range v.fold {
		if !drawable(q) {
			continue
		}
		r := q.ResidualS.Scale(1e3)
		at, s := vg.Point{X: x(v.at(q.Place)), Y: y(r.V)}, shape{form: dot, color: steel, size: 1.7}
		if _, off := ends[q.Place]; off {
			s.color, s.size = rust, 2.6
			ends[q.Place] = max(at.Y, y(r.High95())) + 2
		}
		if r.U > 0 {
			interval(c, s.color, at.X, y(r.Low95()), y(r.High95()))
		}
		s.at(c, at, 0)
	}
	if v.named != nil {
		v.mark(c, x, ends)
	}
}

// mark names the tooth above the plot, where there are no points, with a line down to each
// of its beats.
func (v teeth) mark(c draw.Canvas, x func(float64) vg.Length, ends map[int]vg.Length) {
	first, last := c.Max.X, c.Min.X
	style, top := line(rust, 0.6, 2, 2), c.Max.Y+3
	for _, b := range v.named.Beats {
		at := x(v.at(b))
		first, last = min(first, at), max(last, at)
		c.StrokeLine2(style, at, top, at, min(top, ends[b]))
	}
	c.StrokeLine2(style, first, top, last, top)
	s := aligned(v.layout.words(rust), text.XCenter, text.YBottom)
	half := s.Width(toothMark(v.named)) / 2
	mid := min(max((first+last)/2, c.Min.X+half), c.Max.X-half)
	c.FillText(s, vg.Point{X: mid, Y: top + 1.5}, toothMark(v.named))
}

// teethTicks are for an axis of teeth: the first tooth, and the whole numbers of evenTicks.
type teethTicks struct{}

func (teethTicks) Ticks(lo, hi float64) []tick {
	ticks := []tick{{1, "1"}}
	for _, t := range (evenTicks{aim: 7}).Ticks(lo, hi) {
		if t.value > 1 && t.value == math.Round(t.value) {
			ticks = append(ticks, t)
		}
	}
	return ticks
}

package plots

import (
	"fmt"
	"strconv"
	"strings"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"
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
	r, l := *f.Rate, f.layout()
	all := panels{layout: l}
	if len(r.Fold) > 0 {
		v := teeth{fold: r.Fold, each: float64(max(1, r.BeatsPerTooth)), named: offTooth(r), from: r.CountedFrom(),
			wave: r.Tooth != nil && r.Tooth.Kind != beat.ToothUnheard, layout: l}
		all.all = append(all.all, v.panel())
	}
	if len(r.Wheels) > 0 {
		all.all = append(all.all, l.bars("Periodic error by arbor, and the time of its turn", "amplitude, ms", arborRows(r.Wheels)))
	}
	return Figure{
		Title:  wheelsTitle(r),
		Note:   "± and the thin bars are 95 % intervals. A filled bar stands out of the noise; a hollow one does not." + toothNote(r),
		Desc:   wheelsDesc(r),
		height: all.height(),
		draw:   all.draw,
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

func arborRows(wheels []beat.Wheel) (rows []barRow) {
	for _, w := range wheels {
		words := fmt.Sprintf("%s, %s", arborName(w), quantity.SpanText(w.PeriodS))
		v := w.Amplitude.Scale(1e3)
		if certain(v) {
			words += ": " + v.Full("ms")
		}
		rows = append(rows, barRow{words, v, w.Significant})
	}
	return rows
}

package render

import (
	"fmt"
	"io"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"
)

// Rate writes the findings on a run of beats for a person: on one screen, or in full.
func Rate(w io.Writer, title string, f beat.Result, full bool) error {
	if full {
		return rateFull(w, title, f)
	}
	a := answer{title: title, says: theClock(f), figures: RateFigures(f), mark: "!", reasons: f.Warnings, next: f.Next,
		last: interval + " evenbeat rate --full shows the wheels and the reasons."}
	return a.write(w)
}

func theClock(f beat.Result) string {
	return "The clock " + f.Rate.GainText("gains", "loses") + "." + f.Course
}

// RateFigures are the figures of the beat, and of what repeats in it what is sure.
func RateFigures(f beat.Result) (rows [][2]string) {
	add := func(name, value string) { rows = append(rows, [2]string{name, value}) }
	add("beat error", beatError(f))
	add("beats per hour", beatsPerHour(f))
	add("heard", heard(f))
	add("time base", f.TimeBase.From())
	if f.Amplitude != nil {
		add("amplitude", f.Amplitude.Text("° to either side"))
	}
	if f.CircularError != nil {
		add("circular error", f.CircularError.Text("s/day lost"))
	}
	if f.Pendulum != nil {
		add("pendulum", pendulumOff(f.Pendulum.Difference, quantity.Value.Text))
	}
	sure := 0
	for _, wh := range f.Wheels {
		if wh.Significant {
			sure++
			add(wh.Name+" arbor", fmt.Sprintf("periodic error of %s, 1 turn in %s", wh.Amplitude.Scale(1e3).Text("ms"), quantity.SpanText(wh.PeriodS)))
		}
	}
	if t := f.TrainTooth; t != nil {
		add(t.Name+" arbor", fmt.Sprintf("%d beats in each turn come %s, 1 turn in %s", t.Beats, beat.LateText(t.Late), quantity.SpanText(t.PeriodS)))
	} else if len(f.Wheels) > 0 && sure == 0 {
		add("wheels", "no periodic error found")
	}
	if t := f.Tooth; t != nil && t.Significant {
		add("escape wheel", tooth(f, quantity.Value.Signed))
	}
	if len(f.Periods) > 0 {
		p := f.Periods[0]
		more := ""
		if n := len(f.Periods) - 1; n > 0 {
			more = fmt.Sprintf(", and %d more", n)
		}
		add("repeats", fmt.Sprintf("every %s, %s: %s%s", p.Beats.Text("beats"), quantity.SpanText(p.PeriodS), p.Amplitude.Scale(1e3).Text("ms"), more))
	}
	return rows
}

// rateFull writes all that is found of a run of beats.
func rateFull(w io.Writer, title string, f beat.Result) error {
	r := New(w)
	r.Head(title)
	r.Say(theClock(f))
	r.Printf("\n")
	r.Row("rate", f.Rate.FullSigned("s/day"))
	r.Row("beat error", beat.InMs(f.BeatError, quantity.Value.Full))
	r.Row("tick less tock", beat.InMs(f.TickTock, quantity.Value.FullSigned))
	r.Row("beats per hour", beatsPerHour(f))
	r.Row("heard", heard(f))
	r.Row("time base", timeBase(f.TimeBase))
	r.value("amplitude", f.Amplitude, "° to either side")
	r.value("circular error", f.CircularError, "s/day lost")
	if f.Pendulum != nil {
		r.Row("pendulum", pendulumOff(f.Pendulum.Difference, quantity.Value.Full))
	}
	r.repeats(f)
	var rows [][]string
	for _, s := range f.Stability {
		limits := "too few terms for an interval"
		if s.High > 0 {
			limits = quantity.Minus(fmt.Sprintf("%.2e to %.2e", s.Low, s.High))
		}
		rows = append(rows, []string{quantity.SpanText(s.TauS), quantity.Minus(fmt.Sprintf("%.2e", s.ADev)), limits})
	}
	r.columns("Stability (overlapping Allan deviation)", []string{"over", "deviation", "68 % interval"}, rows, nil)
	r.List("What it means", "-", f.Reasons)
	r.List("Note", "!", f.Warnings)
	r.List("Next", "→", f.Next)
	r.Printf("\n%s\n", interval)
	return r.err
}

// repeats writes what goes with the turns of the wheels, the tooth that is off and,
// where no train is known, what repeats.
func (r *Report) repeats(f beat.Result) {
	var rows [][]string
	for _, wh := range f.Wheels {
		found := "nothing sure"
		if wh.Significant {
			found = "periodic error found"
		}
		rows = append(rows, []string{fmt.Sprintf("%d %s", wh.Arbor, wh.Name), quantity.SpanText(wh.PeriodS), wh.Amplitude.Scale(1e3).Full("ms"), found})
	}
	r.columns("Wheels", []string{"arbor", "1 turn in", "periodic error", ""}, rows, nil)
	if f.Tooth != nil && f.Tooth.Significant {
		r.Printf("\nEscape wheel\n")
		r.lines(item("  ", tooth(f, quantity.Value.FullSigned)))
	}
	rows = nil
	for _, p := range f.Periods {
		rows = append(rows, []string{p.Beats.Full("beats"), fmt.Sprintf("%.4g s", p.PeriodS), p.Amplitude.Scale(1e3).Full("ms")})
	}
	r.columns("What repeats", []string{"every", "which is", "by"}, rows, nil)
}

// writer writes a value in a unit: quantity.Value's Text, Signed, or in full.
type writer func(v quantity.Value, unit string) string

// tooth names the tooth that is off.
func tooth(f beat.Result, write writer) string {
	t := f.Tooth
	text := fmt.Sprintf("tooth %d, counted from %s: %s", t.Tooth, f.CountedFrom(), t.Kind)
	if t.Late.U > 0 {
		text += ", late (+) or early (−) by " + write(t.Late.Scale(1e3), "ms")
	}
	return text
}

func pendulumOff(d quantity.Value, write writer) string {
	if d.V < 0 {
		return "too short by " + write(d.Scale(-1e3), "mm")
	}
	return "too long by " + write(d.Scale(1e3), "mm")
}

func beatError(f beat.Result) string {
	text := beat.InMs(f.BeatError, quantity.Value.Text)
	if f.TickTock.U > 0 {
		text += "; tick less tock " + beat.InMs(f.TickTock, quantity.Value.Signed)
	}
	return text
}

func beatsPerHour(f beat.Result) string {
	return fmt.Sprintf("%.3f, one every %.6f s", f.BeatsPerHour, f.IntervalS)
}

func heard(f beat.Result) string {
	text := fmt.Sprintf("%d beats in %s; %s", f.Beats, quantity.SpanWords(f.DurationS), f.Counts())
	if f.Segments > 1 {
		text += fmt.Sprintf(", in %d stretches", f.Segments)
	}
	return text
}

func timeBase(t beat.TimeBase) string {
	s := t.From()
	if t.CountPPM != nil {
		s += "; the sensor counts " + t.CountPPM.FullSigned("ppm") + " against this computer's clock"
	}
	if t.HostPPM != nil {
		s += "; that clock itself is off by " + t.HostPPM.FullSigned("ppm")
	}
	return s
}

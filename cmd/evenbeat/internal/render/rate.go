package render

import (
	"fmt"
	"io"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/timebase"
	"evenbeat/devices/quantity"
)

// Rate writes the findings on a run of beats for a person.
func Rate(w io.Writer, title string, f beat.Result) error {
	r := &Report{w: w}
	r.Head(title)
	r.Row("rate", f.Rate.Quantity().FullSigned("s/day")+RateWord(f.Rate))
	r.Row("beat error", f.BeatError.Scale(1e3).Full("ms"))
	r.Row("tick less tock", f.TickTock.Scale(1e3).FullSigned("ms"))
	r.Row("beats per hour", fmt.Sprintf("%.3f, one every %.6f s", f.BeatsPerHour, f.IntervalS))
	r.Row("heard", heard(f))
	r.Row("time base", timeBase(f.TimeBase))
	writeSwing(r, f)
	if len(f.Wheels) > 0 {
		r.Printf("\nWheels\n")
		for _, wh := range f.Wheels {
			mark := "nothing sure"
			if wh.Significant {
				mark = "periodic error found"
			}
			r.Printf("  %d %-10s turns in %8.1f s   %s   %s\n", wh.Arbor, wh.Name, wh.PeriodS,
				wh.Amplitude.Scale(1e3).Full("ms"), mark)
		}
	}
	writeRepeats(r, f)
	if len(f.Stability) > 0 {
		r.Printf("\nStability (overlapping Allan deviation, 68 %% interval)\n")
		for _, s := range f.Stability {
			limits := "too few terms for an interval"
			if s.High > 0 {
				limits = fmt.Sprintf("(%.2e to %.2e)", s.Low, s.High)
			}
			r.Printf("  %9s   %.2e  %s\n", quantity.SpanText(s.TauS), s.ADev, limits)
		}
	}
	r.List("What it means", "-", f.Reasons)
	r.List("Heed", "!", f.Warnings)
	r.List("Next", "→", f.Next)
	r.interval()
	return r.err
}

// writeSwing writes what is known of the pendulum and how far it swings.
func writeSwing(r *Report, f beat.Result) {
	r.value("amplitude", f.Amplitude, "° to either side")
	r.value("circular error", f.CircularError, "s/day lost")
	if f.Pendulum != nil {
		r.Row("pendulum off by", f.Pendulum.Difference.Scale(1e3).FullSigned("mm"))
	}
}

// writeRepeats writes the tooth that is off and, where no train is known, what
// repeats.
func writeRepeats(r *Report, f beat.Result) {
	if t := f.Tooth; t != nil && t.Significant {
		text := t.Kind
		if t.Late.U > 0 {
			text += ", late (+) or early (−) by " + t.Late.Scale(1e3).FullSigned("ms")
		}
		r.Printf("\nEscape wheel\n  tooth %d, counted from %s: %s\n", t.Tooth, f.CountedFrom(), text)
	}
	if len(f.Periods) == 0 {
		return
	}
	r.Printf("\nWhat repeats\n")
	for _, p := range f.Periods {
		r.Printf("  every %s   %.4g s   %s\n", p.Beats.Full("beats"), p.PeriodS, p.Amplitude.Scale(1e3).Full("ms"))
	}
}

// RateWord says whether a rate gains or loses.
func RateWord(q beat.Rate) string {
	switch {
	case q.Low95 > 0:
		return ", gains"
	case q.High95 < 0:
		return ", loses"
	}
	return ", gains or loses: too small to tell"
}

func heard(f beat.Result) string {
	d := time.Duration(f.DurationS * float64(time.Second)).Round(time.Second)
	return fmt.Sprintf("%d beats in %s; %d missed, %d spurious, %d unbroken %s", f.Beats, d, f.Missed,
		f.Spurious, f.Segments, Plural(f.Segments, "stretch", "stretches"))
}

// Plural picks the form of a word that goes with n.
func Plural(n int64, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func timeBase(t beat.TimeBase) string {
	s := t.From()
	if t.Source == timebase.SourceDevice {
		return s
	}
	if t.OffsetPPM.U > 0 {
		s += "; the sensor counts " + t.OffsetPPM.FullSigned("ppm") + " against it"
	}
	return s
}

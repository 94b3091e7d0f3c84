package terminal

import (
	"context"
	"errors"
	"fmt"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices"
	"evenbeat/devices/quantity"
	"evenbeat/sessions/recorder"
)

// AirLine is the line of JSON that acknowledges a row of the air.
type AirLine struct {
	Air         int64     `json:"air"`                     // its number in the book, where it now is
	Time        time.Time `json:"time"`                    // mean of its samples' times
	Temperature *float64  `json:"temperature_c,omitempty"` // mean of its samples
	Pressure    *float64  `json:"pressure_hpa,omitempty"`  // mean of its samples
	Humidity    *float64  `json:"humidity_pct,omitempty"`  // mean of its samples
	Samples     int       `json:"samples"`                 // that it is the mean of
}

// AirSummary is the last line of JSON: what the session recorded.
type AirSummary struct {
	Session int64 `json:"session"` // its number; 0 where no sensor was heard
	live.AirSum
	Faults int64    `json:"faults"` // in the book
	Next   []string `json:"next"`
}

// airing shows a session of recording the air.
type airing struct {
	told
	clock  string
	latest string // what the sensor said last, and when
	kept   int64
	said   bool // a silence was told in a line of its own
	drawn  bool // a line stands that is to be drawn over
}

// Air runs a session of recording the air until it ends, and shows on a terminal what the
// sensor says. At the end it sums up, with times in a zone. A failed write to Out ends the
// session, with that error.
func (s Streams) Air(ctx context.Context, a *live.Air, b live.BeatBook, zone *time.Location) error {
	// What the session tells after an interrupt is shown too, up to its end.
	events := a.Subscribe(context.WithoutCancel(ctx))
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	ran := make(chan error, 1)
	go func() { ran <- a.Run(ctx, b) }()
	t := airing{told: told{Streams: s}, latest: "nothing heard yet"}
	var broken error
	for e := range events {
		s.supervised(e)
		if broken == nil {
			if broken = t.event(e); broken != nil {
				stop()
			}
		}
	}
	if err := errors.Join(<-ran, broken); err != nil {
		return err
	}
	return t.sumUp(a.State(), zone)
}

func (t *airing) event(e live.Event) error {
	switch e.Kind {
	case live.Whole:
		t.clock, t.kept = e.State.Clock, e.State.Air.Rows
		t.catchUp(e.State)
	case live.Searching:
		t.searching(e.Search)
	case live.Started:
		t.Say("Recording the air about %s from %s. Ctrl-C ends and sums up.\n", t.clock, e.Session.Port)
	case live.Heard:
		for _, s := range e.Said {
			if s.Kind == devices.KindAir {
				t.latest = utc(s.At).Local().Format("15:04:05") + "  " + airText(s.Air)
			}
		}
	case live.Ticked:
		t.tick(e)
	case live.Warning:
		t.clear()
		t.warning(e.Warning)
	case recorder.Aired:
		return t.row(e)
	case recorder.Faulty:
		t.clear()
		line := t.fault(e)
		if t.JSON {
			return t.Line(t.clock, FaultLine{e.Fault.Text})
		}
		t.Say("%s\n", line)
	}
	return nil
}

func (t *airing) row(e live.Event) error {
	t.kept++
	if !t.JSON {
		return nil
	}
	a := e.Air
	line := AirLine{Air: a.ID, Time: a.At, Samples: e.Times}
	for _, x := range []struct {
		has bool
		v   *float64
		to  **float64
	}{{a.HasTemperature, &a.TemperatureC, &line.Temperature}, {a.HasPressure, &a.PressureHPa, &line.Pressure}, {a.HasHumidity, &a.HumidityPct, &line.Humidity}} {
		if x.has {
			*x.to = x.v
		}
	}
	return t.Line(t.clock, line)
}

// tick draws the latest in its line. Where nothing can be drawn over, a silence is told
// once.
func (t *airing) tick(e live.Event) {
	silent := fmt.Sprintf("nothing heard for %s: is the sensor plugged in?", e.Quiet.Round(time.Second))
	if t.EstimateEvery() == 0 {
		if e.Silent && !t.said {
			t.Say("  ! %s\n", silent)
		}
		t.said = e.Silent
		return
	}
	line := fmt.Sprintf("  %s; %d %s kept", t.latest, t.kept, quantity.Plural(t.kept, "row", "rows"))
	if e.Silent {
		line = "  " + silent
	}
	t.clear()
	t.Say("%s", t.fit(line))
	t.drawn = true
}

// clear takes away the line that stands.
func (t *airing) clear() {
	if t.drawn {
		t.Say("\r\x1b[K")
		t.drawn = false
	}
}

// sumUp says what was recorded, and what comes next.
func (t *airing) sumUp(s *live.State, zone *time.Location) error {
	t.clear()
	next := []string{"Check the dial once a day with evenbeat check. With a week of checks, evenbeat going tells what temperature and pressure do to the rate."}
	if s.Air.Temperature == nil && s.Air.Pressure == nil {
		next[0] = "Record temperature and pressure: the rate is held against those two. See what the sensor sends with evenbeat ports watch."
	}
	if t.JSON {
		return t.Line(t.clock, AirSummary{s.Session.ID, s.Air, s.Faults, next})
	}
	r := render.New(t.Out)
	r.Head(t.clock + ": the air")
	if s.Air.Rows == 0 {
		r.Say("Nothing is recorded: nothing that arrived tells temperature, pressure or humidity.")
	} else {
		ranges(r, s.Air, zone)
	}
	if s.Faults > 0 {
		r.Row("faults", fmt.Sprintf("%d, which are kept too", s.Faults))
	}
	r.List("Next", "→", next)
	return r.Err()
}

func ranges(r *render.Report, s live.AirSum, zone *time.Location) {
	const minute = "2 Jan 2006 15:04"
	r.Row("recorded", fmt.Sprintf("%s to %s", s.From.In(zone).Format(minute), s.To.In(zone).Format(minute)))
	r.Row("kept", fmt.Sprintf("%d %s, the mean of %d %s", s.Rows, quantity.Plural(s.Rows, "row", "rows"), s.Samples, quantity.Plural(s.Samples, "sample", "samples")))
	for _, x := range []struct {
		name, unit string
		*live.AirRange
	}{{"temperature", "°C", s.Temperature}, {"pressure", "hPa", s.Pressure}, {"humidity", "%", s.Humidity}} {
		if x.AirRange != nil {
			r.Row(x.name, render.Air(x.Low)+" to "+render.Air(x.High)+" "+x.unit)
		}
	}
	gaps := "none longer than " + quantity.SpanWords(s.Silence().Seconds())
	if s.Gaps > 0 {
		gaps = fmt.Sprintf("%d longer than %s: %s in all", s.Gaps, quantity.SpanWords(s.Silence().Seconds()), quantity.SpanWords(s.GapS))
	}
	r.Row("gaps", gaps)
}

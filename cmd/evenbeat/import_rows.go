package main

import (
	"math"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// rowsIn gathers rows until all are known to be good.
type rowsIn struct {
	book.Incoming
	now   time.Time
	ahead int64
	clock sessions.Clock // of the row at hand, and its zone
	zone  *time.Location
	beats []sessions.Beat
}

// take reads and checks the rows of these kinds. Errors name the file.
func (i *importing) take(file rowFile, kinds []string, whose func(name string) (sessions.Clock, error)) (book.Incoming, error) {
	in := rowsIn{now: i.now()}
	one := map[string]func(*cells) error{
		"readings": in.reading, "beats": in.beat, "checks": in.check, "air": in.airSample, "events": in.event, "particulars": in.particular,
	}
	for _, kind := range kinds {
		for _, r := range file.rows[kind] {
			name := r.cell("clock")
			if name == "" {
				name = file.clock
			}
			var err error
			if in.clock, err = whose(name); err != nil {
				return book.Incoming{}, i.wrong(r.wrong("%w", err))
			}
			in.zone = i.zone(in.clock)
			if err := one[kind](&cells{row: r}); err != nil {
				return book.Incoming{}, i.wrong(err)
			}
			if in.clock.ID == 0 {
				in.Clock = in.clock
			}
		}
	}
	i.ahead = in.ahead
	return in.Incoming, nil
}

// cells reads the cells of a row one after the other, and keeps the first error.
type cells struct {
	row
	err error
}

func (r *cells) number(column string) (x float64, has bool) {
	if r.err == nil {
		x, has, r.err = r.row.number(column)
	}
	return x, has
}

func (r *cells) need(column string) (x float64) {
	if r.err == nil {
		x, r.err = r.row.need(column)
	}
	return x
}

// time reads a row's time in the zone of its clock.
func (in *rowsIn) time(r *cells) (t time.Time) {
	if r.err == nil {
		t, r.err = r.row.time(in.zone)
	}
	if t.After(in.now.Add(aheadMost)) {
		in.ahead++
	}
	return t
}

func (in *rowsIn) reading(r *cells) error {
	x := sessions.Reading{ClockID: in.clock.ID, At: in.time(r), Part: r.cell("part"), Dimension: r.cell("dimension"), Kind: sessions.Kind(r.cell("kind")),
		Value: r.need("value_m"), Text: r.cell("text"), Instrument: r.cell("instrument"), State: sessions.State(r.cell("state"))}
	x.U, _ = r.number("u_m")
	limited := false
	x.Limit, limited = r.number("limit_m")
	x.Step, _ = r.number("step_m")
	if r.err != nil {
		return r.err
	}
	if x.Kind == "" {
		x.Kind, x.KindGuessed = sessions.UsualKind(x.Dimension), true
	}
	if x.State == "" {
		x.State = sessions.Kept
	}
	switch form := r.cell("u_form"); form {
	case "":
		x.Rectangular = sessions.StatesLimit(x.Text)
	case sessions.FormLimit, sessions.FormStandard:
		x.Rectangular = form == sessions.FormLimit
	default:
		return r.wrong("u_form %q is not known: use %s or %s", form, sessions.FormLimit, sessions.FormStandard)
	}
	if limited && x.U >= 0 {
		x.U = 0 // it was reckoned from the limit, which says more
	}
	in.Readings = append(in.Readings, x)
	return in.valid(r, x)
}

// valid checks the row's value by the bounds of what is typed too.
func (in *rowsIn) valid(r *cells, x interface{ Validate(now time.Time) error }) error {
	if r.err != nil {
		return r.err
	}
	if err := x.Validate(in.now); err != nil {
		return r.wrong("%w", err)
	}
	return nil
}

func (in *rowsIn) beat(r *cells) error {
	t := r.need("time_s")
	if r.err != nil {
		return r.err
	}
	var last int64
	if n := len(in.beats); n > 0 {
		last = in.beats[n-1].HostMono
		if in.Session.ClockID != in.clock.ID {
			return r.wrong("beats are of one clock, and the rows above are another's")
		}
	}
	ns, err := beatTime(r.row, t, last)
	if err != nil {
		return err
	}
	in.beats = append(in.beats, importedBeat(ns, in.now))
	in.Session = importedSession(in.clock.ID, in.now)
	in.Beats = func(yield func([]sessions.Beat, error) bool) { yield(in.beats, nil) }
	return nil
}

// beatTime returns a beat's time in nanoseconds since the first, behind the last.
func beatTime(r row, seconds float64, last int64) (int64, error) {
	if !(seconds >= 0 && seconds <= 1e9) {
		return 0, r.wrong("time_s %q is no time in seconds since the start", r.cell("time_s"))
	}
	ns := int64(math.Round(seconds * importedRate))
	if ns < last {
		return 0, r.wrong("time_s %s comes before the row above", r.cell("time_s"))
	}
	return ns, nil
}

func (in *rowsIn) check(r *cells) error {
	x := sessions.Check{ClockID: in.clock.ID, At: in.time(r), ErrorS: r.need("error_s"), U: r.need("u_s")}
	in.Checks = append(in.Checks, x)
	return in.valid(r, x)
}

func (in *rowsIn) airSample(r *cells) error {
	x := sessions.Air{ClockID: in.clock.ID, At: in.time(r)}
	x.TemperatureC, x.HasTemperature = r.number("temperature_c")
	x.PressureHPa, x.HasPressure = r.number("pressure_hpa")
	x.HumidityPct, x.HasHumidity = r.number("humidity_pct")
	in.Air = append(in.Air, x)
	return in.valid(r, x)
}

func (in *rowsIn) event(r *cells) error {
	x := sessions.Event{ClockID: in.clock.ID, At: in.time(r), Kind: r.cell("kind"), Text: r.cell("text")}
	x.Turns, x.HasTurns = r.number("turns")
	x.Before, x.HasBefore = r.number("before_s")
	x.After, x.HasAfter = r.number("after_s")
	in.Events = append(in.Events, x)
	return in.valid(r, x)
}

func (in *rowsIn) particular(r *cells) error {
	x := sessions.Particular{ClockID: in.clock.ID, At: in.time(r), Part: r.cell("part"), Name: r.cell("name"), Value: r.cell("value")}
	in.Particulars = append(in.Particulars, x)
	return in.valid(r, x)
}

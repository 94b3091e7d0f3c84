package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// take reads and checks the rows of these kinds. Errors name the file.
func (m *incoming) take(kinds []string, name string) error {
	one := map[string]func(row) error{
		"readings": m.reading, "beats": m.beat, "checks": m.check, "air": m.airSample, "events": m.event,
	}
	for _, kind := range kinds {
		for _, r := range m.rows[kind] {
			if err := one[kind](r); err != nil {
				return badCall("%s: %w: nothing was imported", name, err)
			}
		}
	}
	return nil
}

func (m *incoming) reading(r row) error {
	at, err := r.time(m.zone)
	if err != nil {
		return err
	}
	v, err := r.need("value_m")
	if err != nil {
		return err
	}
	u, _, err := r.number("u_m")
	if err != nil {
		return err
	}
	limit, limited, err := r.number("limit_m")
	if err != nil {
		return err
	}
	step, _, err := r.number("step_m")
	if err != nil {
		return err
	}
	if u < 0 || limit < 0 || step < 0 {
		return fmt.Errorf("row %d: u_m, limit_m and step_m must not be negative", r.line)
	}
	if limited {
		u = 0 // it was reckoned from the limit, which says more
	}
	if r.cells["part"] == "" || r.cells["dimension"] == "" {
		return fmt.Errorf("row %d: part and dimension must be named", r.line)
	}
	state := sessions.State(r.cells["state"])
	switch state {
	case "":
		state = sessions.Kept
	case sessions.Kept, sessions.Doubtful, sessions.Undone:
	default:
		return fmt.Errorf("row %d: state %q is not known: use kept, doubtful or undone", r.line, state)
	}
	kind, guessed, err := r.kind()
	if err != nil {
		return err
	}
	form := r.cells["u_form"]
	if form != "" && form != sessions.FormLimit && form != sessions.FormStandard {
		return fmt.Errorf("row %d: u_form %q is not known: use %s or %s", r.line, form, sessions.FormLimit, sessions.FormStandard)
	}
	m.readings = append(m.readings, sessions.Reading{ClockID: m.clock.ID, At: at, Part: r.cells["part"], Dimension: r.cells["dimension"],
		Kind: kind, KindGuessed: guessed, Value: v, U: u, Rectangular: form == sessions.FormLimit || form == "" && sessions.StatesLimit(r.cells["text"]), Limit: limit, Step: step, Text: r.cells["text"], Instrument: r.cells["instrument"], State: state})
	return nil
}

// kind returns how the row's reading was taken: the usual way for its dimension, as a
// guess, where the row doesn't say.
func (r row) kind() (k sessions.Kind, guessed bool, err error) {
	k = sessions.Kind(r.cells["kind"])
	if k == "" {
		return sessions.UsualKind(r.cells["dimension"]), true, nil
	}
	if !slices.Contains(sessions.Kinds(), k) {
		return k, false, fmt.Errorf("row %d: kind %q is not known: use outside, inside, depth, typed or count", r.line, k)
	}
	return k, false, nil
}

func (m *incoming) beat(r row) error {
	t, err := r.need("time_s")
	if err != nil {
		return err
	}
	if t < 0 || t > 1e9 {
		return fmt.Errorf("row %d: time_s %g: must be seconds since the start", r.line, t)
	}
	ns := int64(math.Round(t * importedRate))
	if n := len(m.beats); n > 0 && ns < m.beats[n-1].HostMono {
		return fmt.Errorf("row %d: time_s %g comes before the row above", r.line, t)
	}
	m.beats = append(m.beats, importedBeat(ns, m.start))
	return nil
}

func (m *incoming) check(r row) error {
	at, err := r.time(m.zone)
	if err != nil {
		return err
	}
	e, err := r.need("error_s")
	if err != nil {
		return err
	}
	u, err := r.need("u_s")
	if err != nil {
		return err
	}
	if u < 0 {
		return fmt.Errorf("row %d: u_s %g: must not be negative", r.line, u)
	}
	m.checks = append(m.checks, sessions.Check{ClockID: m.clock.ID, At: at, ErrorS: e, U: u})
	return nil
}

func (m *incoming) airSample(r row) error {
	at, err := r.time(m.zone)
	if err != nil {
		return err
	}
	a := sessions.Air{ClockID: m.clock.ID, At: at}
	for _, x := range []struct {
		column    string
		low, high float64
		value     *float64
		has       *bool
	}{
		{"temperature_c", -60, 80, &a.TemperatureC, &a.HasTemperature},
		{"pressure_hpa", 300, 1200, &a.PressureHPa, &a.HasPressure},
		{"humidity_pct", 0, 100, &a.HumidityPct, &a.HasHumidity},
	} {
		if *x.value, *x.has, err = r.number(x.column); err != nil {
			return err
		}
		if *x.has && (*x.value < x.low || *x.value > x.high) {
			return fmt.Errorf("row %d: %s %g: no air is so, must lie between %g and %g", r.line, x.column, *x.value, x.low, x.high)
		}
	}
	if !a.HasTemperature && !a.HasPressure && !a.HasHumidity {
		return fmt.Errorf("row %d: nothing was measured", r.line)
	}
	m.air = append(m.air, a)
	return nil
}

func (m *incoming) event(r row) error {
	at, err := r.time(m.zone)
	if err != nil {
		return err
	}
	e := sessions.Event{ClockID: m.clock.ID, At: at, Kind: r.cells["kind"], Text: r.cells["text"]}
	if !slices.Contains(sessions.EventKinds(), e.Kind) {
		return fmt.Errorf("row %d: kind %q is not known: use %s", r.line, e.Kind, strings.Join(sessions.EventKinds(), ", "))
	}
	if e.Turns, e.HasTurns, err = r.number("turns"); err != nil {
		return err
	}
	m.events = append(m.events, e)
	return nil
}

// keep stores what was gathered. Each kind is stored whole or not at all.
func (m *incoming) keep(ctx context.Context, b *book.Book) (int, error) {
	if err := b.AddReadings(ctx, m.readings); err != nil {
		return 0, err
	}
	if err := b.AddChecks(ctx, m.checks); err != nil {
		return 0, err
	}
	if err := b.AddAirs(ctx, m.air); err != nil {
		return 0, err
	}
	if err := b.AddEvents(ctx, m.events); err != nil {
		return 0, err
	}
	if len(m.beats) > 0 {
		one := func(yield func([]sessions.Beat, error) bool) { yield(m.beats, nil) }
		if _, err := b.ImportBeats(ctx, importedSession(m.clock.ID, m.start), one); err != nil {
			return 0, err
		}
	}
	return len(m.readings) + len(m.checks) + len(m.air) + len(m.events) + len(m.beats), nil
}

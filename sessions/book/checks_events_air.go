package book

import (
	"context"
	"database/sql"
	"slices"
	"strings"

	"evenbeat/sessions"
)

// What befalls a clock over days and weeks: checks of its dial, events, air.

const (
	checkRows = "SELECT id, clock_id, at_ns, error_s, u_s FROM checks"
	eventRows = "SELECT id, clock_id, at_ns, kind, turns, before_s, after_s, text FROM events"
	airRows   = "SELECT id, clock_id, at_ns, temperature_c, pressure_hpa, humidity_pct FROM air"
)

// AddCheck records a comparison of the dial and returns its number.
func (b *Book) AddCheck(ctx context.Context, c sessions.Check) (int64, error) {
	return add(ctx, b, "recording a check", c, b.addCheck)
}

// AddEvent records an event and returns its number. Its kind is one of
// sessions.EventKinds.
func (b *Book) AddEvent(ctx context.Context, e sessions.Event) (int64, error) {
	return add(ctx, b, "recording an event", e, b.addEvent)
}

// AddAir records a sample of the air and returns its number.
func (b *Book) AddAir(ctx context.Context, a sessions.Air) (int64, error) {
	return add(ctx, b, "recording the air", a, b.addAir)
}

func (b *Book) addCheck(ctx context.Context, tx runner, c sessions.Check) (int64, error) {
	numbers := []number{anySign("error of the dial", c.ErrorS), positive("uncertainty", c.U)}
	return b.insertOf(ctx, tx, ofClock{"check", c.ClockID, c.At, numbers},
		"INSERT INTO checks (clock_id, at_ns, error_s, u_s) VALUES (?, ?, ?, ?)", c.ErrorS, c.U)
}

func (b *Book) addEvent(ctx context.Context, tx runner, e sessions.Event) (int64, error) {
	if !slices.Contains(sessions.EventKinds(), e.Kind) {
		return 0, inputError(b.path, "event of kind %q is not known: use %s", e.Kind, strings.Join(sessions.EventKinds(), ", "))
	}
	numbers := []number{anySign("turns", e.Turns), anySign("error before", e.Before), anySign("error after", e.After)}
	return b.insertOf(ctx, tx, ofClock{"event", e.ClockID, e.At, numbers},
		"INSERT INTO events (clock_id, at_ns, kind, turns, before_s, after_s, text) VALUES (?, ?, ?, ?, ?, ?, ?)",
		e.Kind, orNull(e.Turns, e.HasTurns), orNull(e.Before, e.HasBefore), orNull(e.After, e.HasAfter), e.Text)
}

func (b *Book) addAir(ctx context.Context, tx runner, a sessions.Air) (int64, error) {
	if !a.HasTemperature && !a.HasPressure && !a.HasHumidity {
		return 0, inputError(b.path, "air: nothing was measured: give temperature, pressure or humidity")
	}
	// The flags rule: what they don't claim may hold anything.
	numbers := []number{anySign("temperature", measured(a.TemperatureC, a.HasTemperature)),
		anySign("pressure", measured(a.PressureHPa, a.HasPressure)), anySign("humidity", measured(a.HumidityPct, a.HasHumidity))}
	return b.insertOf(ctx, tx, ofClock{"air", a.ClockID, a.At, numbers},
		"INSERT INTO air (clock_id, at_ns, temperature_c, pressure_hpa, humidity_pct) VALUES (?, ?, ?, ?, ?)",
		orNull(a.TemperatureC, a.HasTemperature), orNull(a.PressureHPa, a.HasPressure), orNull(a.HumidityPct, a.HasHumidity))
}

func measured(v float64, has bool) float64 {
	if has {
		return v
	}
	return 0
}

func scanCheck(rows *sql.Rows) (sessions.Check, error) {
	var c sessions.Check
	var ns int64
	err := rows.Scan(&c.ID, &c.ClockID, &ns, &c.ErrorS, &c.U)
	c.At = at(ns)
	return c, err
}

func scanEvent(rows *sql.Rows) (sessions.Event, error) {
	var e sessions.Event
	var ns int64
	var turns, before, after sql.NullFloat64
	err := rows.Scan(&e.ID, &e.ClockID, &ns, &e.Kind, &turns, &before, &after, &e.Text)
	e.At = at(ns)
	e.Turns, e.HasTurns = turns.Float64, turns.Valid
	e.Before, e.HasBefore = before.Float64, before.Valid
	e.After, e.HasAfter = after.Float64, after.Valid
	return e, err
}

func scanAir(rows *sql.Rows) (sessions.Air, error) {
	var a sessions.Air
	var ns int64
	var t, p, h sql.NullFloat64
	err := rows.Scan(&a.ID, &a.ClockID, &ns, &t, &p, &h)
	a.At = at(ns)
	a.TemperatureC, a.HasTemperature = t.Float64, t.Valid
	a.PressureHPa, a.HasPressure = p.Float64, p.Valid
	a.HumidityPct, a.HasHumidity = h.Float64, h.Valid
	return a, err
}

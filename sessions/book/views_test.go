package book

import (
	"database/sql"
	"fmt"
	"strings"
	"testing"
	"time"

	"evenbeat/sessions"
)

// asked is what a SQL tool answers to a question: a line a row, its cells parted by bars.
func asked(t *testing.T, path, stmt string) string {
	t.Helper()
	rows, err := raw(t, path).Query(stmt)
	if err != nil {
		t.Fatalf("%s: %v", stmt, err)
	}
	defer rows.Close()
	columns, _ := rows.Columns()
	var lines []string
	for rows.Next() {
		cells, to := make([]sql.NullString, len(columns)), make([]any, len(columns))
		for i := range cells {
			to[i] = &cells[i]
		}
		if err := rows.Scan(to...); err != nil {
			t.Fatal(err)
		}
		var texts []string
		for _, c := range cells {
			texts = append(texts, c.String)
		}
		lines = append(lines, strings.Join(texts, "|"))
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return strings.Join(lines, "\n")
}

// What a person reads in the views: what stands, in the units that the columns name, by
// the clock and part that a session was moved to, and lengths without the zero of the
// instrument in that session.
func TestViews(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	c, other := addClock(t, b, "Hall clock"), addClock(t, b, "Landing clock")
	ses := startSession(t, b, c.ID, sessions.SessionMeasure)
	gone := startSession(t, b, c.ID, sessions.SessionMeasure)
	reading := func(session int64, dimension string, kind sessions.Kind, value float64, instrument string) int64 {
		t.Helper()
		id, err := b.AddReading(ctx, sessions.Reading{SessionID: session, ClockID: c.ID, At: noon.Add(1500 * time.Millisecond), Part: "barrel", Dimension: dimension,
			Kind: kind, KindGuessed: kind == "", Value: value, Limit: 2e-5, State: sessions.Kept, Text: "as sent", Instrument: instrument})
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	reading(ses, "zero", sessions.Outside, 1e-5, "caliper")
	reading(ses, "zero", sessions.Outside, 3e-5, "caliper")
	slip := reading(ses, "zero", sessions.Outside, 9e-5, "caliper")
	reading(ses, "bore", sessions.Inside, 0.0635, "caliper")
	reading(ses, "strip", "", 0.0004, "micrometer") // whose jaws were not closed
	reading(ses, "coils", "", 12, "caliper")
	reading(ses, "length", sessions.Typed, 1.5, sessions.TypedInstrument)
	reading(gone, "bore", sessions.Inside, 0.07, "caliper")
	undone := reading(ses, "bore", sessions.Inside, 0.08, "caliper")
	reading(0, "arbor", "", 0.016, "caliper") // imported, where nothing closed the jaws
	for _, err := range []error{b.Undo(ctx, slip, ""), b.Undo(ctx, undone, ""), b.Withdraw(ctx, ThingSession, gone, ""), b.MoveSession(ctx, ses, other.ID, "strike"),
		b.AppendBeats(ctx, ses, sensor(1, 300)), b.EndSession(ctx, ses, noon.Add(90*time.Second))} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for i := range 2 {
		in := Incoming{Checks: []sessions.Check{{ClockID: c.ID, At: noon, ErrorS: 7.5 + float64(i), U: 0.25}},
			Events: []sessions.Event{{ClockID: c.ID, At: noon, Kind: sessions.EventAdjusted, Turns: -0.5, HasTurns: true, Text: fmt.Sprint("down ", i)}},
			Air:    []sessions.Air{{ClockID: c.ID, At: noon.Add(time.Duration(i)), TemperatureC: 20.5, HasTemperature: true}}}
		if _, err := b.Import(ctx, in); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := b.AddParticulars(ctx, append(told(c.ID), sessions.Particular{ClockID: c.ID, At: noon, Name: sessions.Photo, Value: "dial.jpg"},
		sessions.Particular{ClockID: c.ID, At: noon, Name: sessions.Photo, Value: "back.jpg"})); err != nil {
		t.Fatal(err)
	}
	for thing, id := range map[Thing]int64{ThingCheck: 2, ThingNote: 2, ThingAir: 2} {
		if err := b.Withdraw(ctx, thing, id, ""); err != nil {
			t.Fatal(err)
		}
	}
	when := noon.UTC().Format(time.DateTime)
	later := noon.Add(1500 * time.Millisecond).UTC().Format(time.DateTime)
	for stmt, want := range map[string]string{
		"SELECT clock, name, round(nut_pitch_mm, 6), zone FROM v_clocks": "1|Hall clock|0.7|" + c.Zone + "\n2|Landing clock|0.7|" + c.Zone,
		"SELECT dimension, clock, part, kind, time_utc, round(value_mm, 9), round(zero_mm, 9), count FROM v_readings ORDER BY reading": strings.Join([]string{
			"zero|2|strike|outside|" + later + "|0.01|0|", "zero|2|strike|outside|" + later + "|0.03|0|",
			"bore|2|strike|inside|" + later + "|63.48|0.02|", "strip|2|strike|outside|" + later + "|0.4|0|",
			"coils|2|strike|count|" + later + "|||12", "length|2|strike|typed|" + later + "|1500|0|",
			"arbor|1|barrel|outside|" + later + "|16|0|"}, "\n"),
		"SELECT session, clock, part, duration_s, beats FROM v_sessions":             "1|2|strike|90|300",
		`SELECT "check", clock, time_utc, error_s, u_s FROM v_checks`:                "1|1|" + when + "|7.5|0.25",
		"SELECT note, time_utc, kind, nut_turns, error_before_s, text FROM v_notes":  "1|" + when + "|adjusted|-0.5||down 0",
		"SELECT air, time_utc, temperature_c, pressure_hpa, humidity_pct FROM v_air": "1|" + when + "|20.5||",
		"SELECT part, name, value FROM v_particulars WHERE name <> 'complaint'":      "|customer|Mrs Ashdown\nbarrel|end|hole\n|photo|dial.jpg\n|photo|back.jpg",
	} {
		if got := asked(t, b.path, stmt); got != want {
			t.Errorf("%s\ngot\n%s\nwant\n%s", stmt, got, want)
		}
	}
}

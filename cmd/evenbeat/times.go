package main

import (
	"time"

	"evenbeat/sessions"
)

// zone returns the zone in which the clock's times are read and written.
func (a *app) zone(c sessions.Clock) *time.Location {
	for _, name := range []string{c.Zone, a.loaded.Settings.Zone} {
		if loc, err := time.LoadLocation(name); name != "" && err == nil {
			return loc
		}
	}
	return time.Local
}

// timeLayouts are the forms in which a time may be written.
var timeLayouts = []string{time.RFC3339Nano, "2006-01-02T15:04:05.999999999", "2006-01-02T15:04",
	"2006-01-02 15:04:05.999999999", "2006-01-02 15:04", time.DateOnly,
	"2006-01-02T15:04Z07:00", "2006-01-02 15:04:05.999999999Z07:00", "2006-01-02 15:04Z07:00"}

// when reads a time: RFC 3339, or without an offset in the clock's zone; now for
// an empty text. It tells of a time that the clocks skipped when summer time began.
func (a *app) when(flag, text string, zone *time.Location) (time.Time, error) {
	if text == "" {
		return a.now(), nil
	}
	for _, layout := range timeLayouts {
		t, err := time.ParseInLocation(layout, text, zone)
		if err != nil {
			continue
		}
		if y := t.Year(); y < 1900 || y > 2199 {
			return time.Time{}, badCall("%s %q: the year must be from 1900 to 2199", flag, text)
		}
		if written, _ := time.Parse(layout, text); written.Hour() != t.Hour() || written.Minute() != t.Minute() {
			a.say("Warning: %s was skipped when the clocks were put forward; it is taken as %s.\n", written.Format("2 Jan 2006 15:04"), t.Format("15:04 MST"))
		}
		return t, nil
	}
	return time.Time{}, badCall("%s %q is no time: write it like 2026-03-01T08:00:00+01:00, or without the offset for the clock's zone", flag, text)
}

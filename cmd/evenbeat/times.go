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
	"2006-01-02 15:04:05.999999999", "2006-01-02 15:04", time.DateOnly}

// aheadMost is how far ahead of this computer's clock a time may lie without a
// remark: clocks differ. A time further ahead is kept all the same, since this
// computer's clock may be the wrong one.
const aheadMost = 10 * time.Minute

// heedAhead warns of a time to be recorded that lies in the future.
func (a *app) heedAhead(t time.Time) {
	if t.After(a.now().Add(aheadMost)) {
		a.say("Heed: %s lies ahead by this computer's clock; it is kept as given.\n", t.Format(time.RFC3339))
	}
}

// when reads a time: RFC 3339, or without an offset in the clock's zone; now for
// an empty text.
func (a *app) when(flag, text string, zone *time.Location) (time.Time, error) {
	if text == "" {
		return a.now(), nil
	}
	for _, layout := range timeLayouts {
		if t, err := time.ParseInLocation(layout, text, zone); err == nil {
			return t, nil
		}
	}
	return time.Time{}, badCall("%s %q is no time: write it like 2026-03-01T08:00:00+01:00, or without the offset for the clock's zone", flag, text)
}

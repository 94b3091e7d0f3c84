package main

import (
	"fmt"
	"strings"
	"time"

	"evenbeat/devices/quantity"
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

// between reads --from and --to, times in a zone; what isn't given is the zero time.
func (a *app) between(from, to string, zone *time.Location) (begin, end time.Time, err error) {
	for _, x := range []struct {
		flag, text string
		to         *time.Time
	}{{"--from", from, &begin}, {"--to", to, &end}} {
		if x.text == "" {
			continue
		}
		if *x.to, err = a.when(x.flag, x.text, zone); err != nil {
			return begin, end, err
		}
	}
	if !begin.IsZero() && !end.IsZero() && !begin.Before(end) {
		return begin, end, badCall("--from %s: must be before --to, %s", from, to)
	}
	return begin, end, nil
}

// when reads a time: RFC 3339, or without an offset in the clock's zone; now for an
// empty text. It tells what is odd of a time.
func (a *app) when(flag, text string, zone *time.Location) (time.Time, error) {
	if text == "" {
		return a.now(), nil
	}
	t, odd, err := parseTime(text, zone)
	if err != nil {
		return t, flagError(flag[2:], err)
	}
	if odd != "" {
		a.say("Warning: %s.\n", odd)
	}
	return t, nil
}

// parseTime reads a time, without an offset in a zone. odd tells of one that the clocks
// skipped when summer time began, or showed twice when it ended, and which was taken.
func parseTime(text string, zone *time.Location) (t time.Time, odd string, err error) {
	upper := strings.ToUpper(text) // RFC 3339 lets its T and Z be small letters
	for _, layout := range timeLayouts {
		t, err := time.ParseInLocation(layout, upper, zone)
		if err != nil {
			continue
		}
		if y := t.Year(); y < quantity.FirstYear || y > quantity.LastYear {
			return t, "", quantity.BadInput("time", fmt.Sprintf("%q", text), fmt.Sprintf("the year must be from %d to %d", quantity.FirstYear, quantity.LastYear))
		}
		written, _ := time.Parse(layout, upper)
		said := written.Format("2 Jan 2006 15:04")
		if written.Hour() != t.Hour() || written.Minute() != t.Minute() {
			return t, said + " was skipped when the clocks were put forward; it is taken as " + t.Format("15:04 MST"), nil
		}
		if strings.Contains(layout, "Z07:00") {
			return t, "", nil
		}
		if first, second := twice(t); !second.IsZero() {
			return first, fmt.Sprintf("%s came twice when the clocks were put back; it is taken as the first, %s: write %s for the second",
				said, first.Format("15:04 MST"), second.Format("2006-01-02T15:04:05Z07:00")), nil
		}
		return t, "", nil
	}
	return time.Time{}, "", quantity.BadInput("time", fmt.Sprintf("%q", text), "write it like 2026-03-01T08:00:00+01:00, or without the offset for the clock's zone")
}

// twice returns both moments at which a zone's clocks showed what they show at t; second
// is zero where there is one alone.
func twice(t time.Time) (first, second time.Time) {
	start, end := t.ZoneBounds()
	shift := func(there time.Time) time.Time { // to what shows the same by the offset there
		_, here := t.Zone()
		_, other := there.Zone()
		return t.Add(time.Duration(here-other) * time.Second)
	}
	if before := shift(start.Add(-1)); !start.IsZero() && before.Before(start) {
		return before, t
	}
	if after := shift(end); !end.IsZero() && !after.Before(end) {
		return t, after
	}
	return t, time.Time{}
}

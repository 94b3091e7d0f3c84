package sessions

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"evenbeat/devices/quantity"
)

// TestValidate walks over each bound: what lies on it is taken, what lies beyond isn't,
// and nor is what is no number.
func TestValidate(t *testing.T) {
	now := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	year := 366 * 24 * time.Hour
	bore := Reading{At: now, Part: "barrel", Dimension: "bore", Kind: Inside, Value: 0.06, State: Kept}
	reading := func(change func(*Reading)) Reading {
		r := bore
		change(&r)
		return r
	}
	sized := func(dimension string, kind Kind, state State, v float64) Reading {
		return reading(func(r *Reading) { r.Dimension, r.Kind, r.State, r.Value = dimension, kind, state, v })
	}
	air := func(c, hPa, pct float64) Air {
		return Air{At: now, TemperatureC: c, PressureHPa: hPa, HumidityPct: pct, HasTemperature: true, HasPressure: true, HasHumidity: true}
	}
	event := func(kind string, turns float64) Event {
		return Event{At: now, Kind: kind, Turns: turns, HasTurns: true}
	}
	told := func(part, name, value string) Particular {
		return Particular{At: now, Part: part, Name: name, Value: value}
	}
	type row interface{ Validate(time.Time) error }
	for _, tc := range []struct {
		name       string
		good, bad  row
		what, text string // of the error
	}{
		{"a day fast", Check{At: now, ErrorS: 86400}, Check{At: now, ErrorS: 86400.1}, "error", "no dial can be more than 24 h out"},
		{"a day slow", Check{At: now, ErrorS: -86400}, Check{At: now, ErrorS: math.Inf(-1)}, "error", "no dial can be more than 24 h out"},
		{"no number", Check{At: now}, Check{At: now, ErrorS: math.NaN()}, "error", "no dial can be more than 24 h out"},
		{"uncertainty", Check{At: now, U: 86400}, Check{At: now, U: -0.1}, "uncertainty", "must be from 0 to 24 h"},
		{"uncertainty, no number", Check{At: now}, Check{At: now, U: math.NaN()}, "uncertainty", "must be from 0 to 24 h"},
		{"time to come", Check{At: now.Add(year)}, Check{At: now.Add(year + 1)}, "time", "more than a year ahead of this computer's clock: mend the year, or set that clock"},
		{"old", Check{At: time.Date(1900, 1, 1, 0, 0, 0, 0, time.UTC)}, Check{At: time.Date(1899, 12, 31, 0, 0, 0, 0, time.UTC)}, "time", "the year must be from 1900 to 2199"},
		{"event of an old year", Event{At: now, Kind: EventWound}, Event{Kind: EventWound}, "time", "the year must be from 1900 to 2199"},
		{"kind", Event{At: now, Kind: EventRemark}, Event{At: now, Kind: "dusted"}, "kind", "use wound, adjusted, moved, oiled, cleaned, repaired, bushed, replaced, stopped, started, set, remark"},
		{"turns", event(EventAdjusted, -1000), event(EventAdjusted, 1000.5), "turns", "must be from −1000 to 1000, plus = made to gain"},
		{"turns, no number", event(EventAdjusted, 0), event(EventAdjusted, math.NaN()), "turns", "must be from −1000 to 1000, plus = made to gain"},
		{"turns of a winding", event(EventAdjusted, 2), event(EventWound, 2), "turns", "goes with the kind adjusted, not wound"},
		{"set", Event{At: now, Kind: EventSet, After: 86400}, Event{At: now, Kind: EventSet, Before: 1e9}, "error", "no dial can be more than 24 h out"},
		{"cold", air(-60, 300, 0), air(-60.5, 300, 0), "temperature", "no room has such air: must be from -60 to 100"},
		{"low", air(100, 1200, 100), air(100, 1201, 100), "pressure", "no room has such air: must be from 300 to 1200"},
		{"wet", air(100, 1200, 100), air(100, 1200, math.NaN()), "humidity", "no room has such air: must be from 0 to 100"},
		{"what wasn't measured", Air{At: now, HasHumidity: true, PressureHPa: 7}, Air{At: now, PressureHPa: 1000}, "air", "nothing was measured: give temperature, pressure or humidity"},
		{"longest", sized("bore", Inside, Kept, 1e3), sized("bore", Inside, Kept, 1e9), "bore", "must be at most 1000 m: was the unit meant?"},
		{"shortest", sized("bore", Inside, Kept, 1e-6), sized("bore", Inside, Kept, 0), "bore", "must be above 0, and a size that can be measured"},
		{"negative", sized("bore", Inside, Doubtful, -0.06), sized("bore", Inside, Kept, -0.06), "bore", "must be above 0, and a size that can be measured"},
		{"doubtful", sized("bore", Inside, Doubtful, 1e3), sized("bore", Inside, Doubtful, -1e4), "bore", "must be at most 1000 m: was the unit meant?"},
		{"undone", sized("bore", Inside, Undone, 1e9), sized("bore", Inside, Undone, math.NaN()), "bore", "must be at most 1000 m: was the unit meant?"},
		{"coils", sized("coils", Count, Kept, 1e4), sized("coils", Count, Kept, 10001), "coils", "must be at most 10000: was the unit meant?"},
		{"closed jaws", sized("zero", Outside, Kept, -0.2e-3), sized("zero", Outside, Kept, 0.3e-3), "zero", "closed jaws read within 0.2 mm of 0"},
		{"stated", reading(func(r *Reading) { r.U = 1 }), reading(func(r *Reading) { r.Limit = -1 }), "uncertainty, limit or step", "must be from 0 to 1000 m"},
		{"step", reading(func(r *Reading) { r.Step = 1e-5 }), reading(func(r *Reading) { r.Step = math.Inf(1) }), "uncertainty, limit or step", "must be from 0 to 1000 m"},
		{"part", bore, reading(func(r *Reading) { r.Part = "" }), "part", "the name is empty: write one"},
		{"instrument", reading(func(r *Reading) { r.Instrument = "" }), reading(func(r *Reading) { r.Instrument = "a\x1b[2J" }), "instrument", "a name has no line ends and no control characters"},
		{"state", bore, reading(func(r *Reading) { r.State = "lost" }), "state", "use kept, doubtful or undone"},
		{"kind guessed", reading(func(r *Reading) { r.Kind, r.KindGuessed = "", true }), reading(func(r *Reading) { r.Kind = "" }), "kind", "use outside, inside, depth, typed or count"},
		{"told of an old year", told("", Serial, "4711"), Particular{Name: Serial, Value: "4711"}, "time", "the year must be from 1900 to 2199"},
		{"told under no name", told("", Customer, "Mrs Ashdown"), told("", "owner", "Mrs Ashdown"), "name", "use customer, job, serial, mark, complaint, photo, end, direction, barrel-hook, arbor-hook, cover, set"},
		{"end", told("barrel", SpringEnd, "T-end"), told("barrel", SpringEnd, "hook"), "end", "use hole, loop, T-end"},
		{"hook of no part", told("barrel", BarrelHook, Sound), told("", BarrelHook, Sound), "part", "the name is empty: write one"},
		{"customer of a part", told("", Customer, "x"), told("barrel", Customer, "x"), "part", "customer belongs to the whole clock, not to a part"},
		{"longest name", told("", MakerMark, strings.Repeat("ö", 100)), told("", MakerMark, strings.Repeat("ö", 101)), "mark", "a name has at most 100 characters, and this one has 101"},
		{"words in lines", told("", Complaint, "It stops.\nAt night."), told("", Complaint, " \n"), "complaint", "there are no words"},
		{"most words", told("", Complaint, strings.Repeat("ö", 600)), told("", Complaint, strings.Repeat("ö", 601)), "complaint", "at most 600 characters fit on the customer's page"},
		{"words for a terminal", told("", Complaint, "a\tb"), told("", Complaint, "a\x1b[2J"), "complaint", "there are control characters in it"},
		{"photo", told("", Photo, "dial.JPG"), told("", Photo, "../dial.jpg"), "photo", "must be the name of a file that ends in .jpg or .png, without a folder"},
		{"photo on another system", told("", Photo, "back 2.jpeg"), told("", Photo, `C:dial.jpg`), "photo", "must be the name of a file that ends in .jpg or .png, without a folder"},
		{"photo of another kind", told("", Photo, "dial.png"), told("", Photo, "dial.svg"), "photo", "must be the name of a file that ends in .jpg or .png, without a folder"},
	} {
		if err := tc.good.Validate(now); err != nil {
			t.Errorf("%s: %v", tc.name, err)
		}
		err := tc.bad.Validate(now)
		if e, ok := errors.AsType[*quantity.InputError](err); !ok || e.Name != tc.what || e.Why != tc.text {
			t.Errorf("%s: got %v (%s), want %s: %s", tc.name, err, fmt.Sprintf("%+v", tc.bad), tc.what, tc.text)
		}
	}
}

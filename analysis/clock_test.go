package analysis

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/pendulum"
	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// Beckett, Rudimentary Treatise, 8th ed., p. 133: great wheel 12 h, 3600 beats. The
// seconds pendulum at 51.5° is 994.167 mm by GRS80 (from memory, recomputed).
func TestClock(t *testing.T) {
	g, err := pendulum.Gravity(51.5, 0)
	if err != nil {
		t.Fatal(err)
	}
	rec := sessions.Record{
		Clock: sessions.Clock{Name: "hall", Train: "96/8,64/8,60/8,30", Rod: "steel", NutPitch: 0.0254 / 18, Zone: "Europe/Paris"},
		Events: []sessions.Event{
			{Kind: sessions.EventWound, At: noon},
			{Kind: sessions.EventOiled, At: noon.Add(time.Hour)},
			{Kind: sessions.EventWound, At: noon.Add(-24 * time.Hour)},
		},
	}
	f, err := Clock(rec, ClockOptions{Gravity: g, Spring: &spring.Result{GoingHours: &spring.Estimate{Value: quantity.Value{V: 190, U: 5, K: 2}}}})
	if err != nil {
		t.Fatal(err)
	}
	if f.BeatsPerHour != 3600 || f.IntervalS != 1 || f.BarrelTurnHours != 12 || len(f.Arbors) != 4 {
		t.Errorf("train: %+v", f)
	}
	near(t, "pendulum, mm", f.PendulumLength.V/mm, 994.167, 5e-4)
	near(t, "u of the pendulum, mm", f.PendulumLength.U/mm, 0.0253, 5e-5) // 25 mGal of 981.2 Gal
	near(t, "rod", f.RodPerKelvin.V, -0.498, 5e-4)
	near(t, "nut", f.NutPerTurn.V, 61.38, 5e-3)
	if want := noon.Add(180 * time.Hour); !f.WindBy.Equal(want) { // 190 − 2·5
		t.Errorf("wind by %v, want %v", f.WindBy, want)
	}
	text, err := json.Marshal(f)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`"name":"hall"`, `"beats_per_hour":3600`, `"interval_s":1`, `"barrel_turn_hours":12`,
		`{"arbor":1,"name":"barrel","period_s":43200}`, `"pendulum_length_m":{"value":0.99`, `"last_wound":"2026-05-04T14:00:00+02:00"`, `"wind_by":`,
	} {
		if !strings.Contains(string(text), want) {
			t.Errorf("JSON lacks %s: %s", want, text)
		}
	}
}

func TestClockWithLittleKnown(t *testing.T) {
	f, err := Clock(sessions.Record{Clock: sessions.Clock{Name: "bare"}}, ClockOptions{})
	if err != nil || f.IntervalS != 0 || f.PendulumLength != nil || f.LastWound != nil {
		t.Errorf("a bare clock: %+v, %v", f, err)
	}
	f, err = Clock(sessions.Record{Clock: sessions.Clock{Name: "seconds", BeatsPerHour: 3600}}, ClockOptions{})
	if err != nil || f.PendulumLength == nil {
		t.Fatalf("a seconds clock: %+v, %v", f, err)
	}
	// Anywhere from the equator to the pole: 990.954 to 996.209 mm (GRS80).
	if !f.PendulumLength.Covers(0.990954) || !f.PendulumLength.Covers(0.996209) || !told(f.Reasons, "where the clock stands") {
		t.Errorf("length %s, reasons %q", f.PendulumLength.Scale(1e3).Text("mm"), f.Reasons)
	}
	f, err = Clock(sessions.Record{Clock: sessions.Clock{Name: "balance", BeatsPerHour: 18000}}, ClockOptions{})
	if err != nil || f.PendulumLength != nil {
		t.Errorf("a balance has a pendulum: %+v, %v", f, err)
	}
	for _, bad := range []sessions.Clock{{Train: "96"}, {Train: "96/8,30", HourArbor: 9}, {BeatsPerHour: 3600, Rod: "gold"}} {
		if _, err := Clock(sessions.Record{Clock: bad}, ClockOptions{}); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
}

package analysis_test

import (
	"strings"
	"testing"
	"time"

	"evenbeat/analysis"
	"evenbeat/devices/simulate"
	"evenbeat/sessions"
)

// TestGoingOfASimulatedWeek: twenty weeks of a simulated clock with run-down, heat
// and weather, its dial read once a day to half a second: the mean rate holds the
// truth, and so does what the nut needs.
func TestGoingOfASimulatedWeek(t *testing.T) {
	const seeds, day = 20, 86400.0
	held := 0
	for seed := range uint64(seeds) {
		c, err := simulate.NewClock(simulate.DefaultClock(seed))
		if err != nil {
			t.Fatal(err)
		}
		begin := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
		rec := sessions.Record{Clock: sessions.Clock{Name: "simulated", BeatsPerHour: 3600, Rod: "steel", NutPitch: 0.0254 / 18}}
		for d := range 8 {
			at := float64(d) * day
			rec.Checks = append(rec.Checks, sessions.Check{At: begin.AddDate(0, 0, d), ErrorS: c.ReadDial(at), U: 0.5 / 1.7320508})
		}
		for h := range 7 * 24 {
			at := float64(h) * 3600
			a := c.Air(at)
			rec.Air = append(rec.Air, sessions.Air{At: begin.Add(time.Duration(h) * time.Hour), TemperatureC: a.TemperatureC, PressureHPa: a.PressureHPa, HasTemperature: true, HasPressure: true})
		}
		r, err := analysis.Going(rec, analysis.GoingOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if r.MeanRate.Covers(c.MeanRate(0, 7*day)) {
			held++
		}
		if r.Nut == nil || r.Nut.Source != "geometry" || r.Nut.Advice == nil {
			t.Errorf("seed %d: nut %+v", seed, r.Nut)
		}
		if len(r.Daily) != 7 || len(r.Curve) != 8 || r.Trend == nil {
			t.Errorf("seed %d: %d daily rates, %d points", seed, len(r.Daily), len(r.Curve))
		}
	}
	// 95 % of 20 is 19; below 16 the binomial has 1 in 400.
	if held < 16 {
		t.Errorf("the truth is held in %d of %d weeks", held, seeds)
	}
}

func TestGoingNamesWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		clock sessions.Clock
		want  string
	}{
		{sessions.Clock{Name: "hall", Zone: "Nowhere/Town"}, `zone "Nowhere/Town" of clock hall`},
		{sessions.Clock{Name: "hall", Rod: "cheese"}, `clock hall: rod "cheese"`},
	} {
		if _, err := analysis.Going(sessions.Record{Clock: c.clock}, analysis.GoingOptions{}); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("got %v, want %s…", err, c.want)
		}
	}
}

// TestGoingTellsTimesInTheClocksZone: a check at 08:00 UTC in March is at 09:00 in
// Paris.
func TestGoingTellsTimesInTheClocksZone(t *testing.T) {
	rec := sessions.Record{Clock: sessions.Clock{Zone: "Europe/Paris"}, Checks: []sessions.Check{{At: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC), ErrorS: 1, U: 0.3}}}
	r, err := analysis.Going(rec, analysis.GoingOptions{})
	if err != nil || !strings.Contains(r.Reasons[0], "2 Mar 2026 09:00") {
		t.Errorf("got %q, %v", r.Reasons, err)
	}
}

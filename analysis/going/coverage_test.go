package going

import (
	"fmt"
	"math"
	"testing"

	"evenbeat/devices/quantity"
)

// TestCoverage: over simulated clocks, steady ones and restless ones, the 95 %
// intervals hold what was put in. Few checks make intervals lean on what is usual
// of clocks, so the count may be above 95 %; it may not be below by more than
// three standard deviations of the binomial.
func TestCoverage(t *testing.T) {
	type figure struct {
		name string
		of   func(made, truth, Result) (quantity.Value, float64, bool)
	}
	figures := []figure{
		{"mean rate", func(m made, tr truth, r Result) (quantity.Value, float64, bool) {
			return *r.MeanRate, (tr.at[m.days*24] - tr.at[0]) / float64(m.days), true
		}},
		{"forecast", func(m made, tr truth, r Result) (quantity.Value, float64, bool) {
			return *r.Forecast, tr.at[(m.days+7)*24], true
		}},
		{"trend", func(m made, tr truth, r Result) (quantity.Value, float64, bool) {
			if r.Trend == nil || m.perK != 0 {
				return quantity.Value{}, 0, false
			}
			return *r.Trend, m.trend, true
		}},
		{"temperature", func(m made, _ truth, r Result) (quantity.Value, float64, bool) {
			return factorOf(r, temperature, m.perK)
		}},
		{"pressure", func(m made, _ truth, r Result) (quantity.Value, float64, bool) {
			return factorOf(r, pressure, m.perHPa)
		}},
		{"hours since winding", func(m made, _ truth, r Result) (quantity.Value, float64, bool) {
			return factorOf(r, winding, m.perHour)
		}},
		{"nut", func(m made, _ truth, r Result) (quantity.Value, float64, bool) {
			if r.Nut == nil {
				return quantity.Value{}, 0, false
			}
			return r.Nut.PerTurn, m.perTurn, true
		}},
	}
	const seeds = 60
	for _, m := range []made{
		{days: 7, every: 1, rate: 8, phase: 0.1, wander: 0.02, u: 0.3},
		{days: 7, every: 1, rate: -20, phase: 1, wander: 0.2, u: 0.3},
		{days: 30, every: 1, rate: 2, phase: 0.3, wander: 0, perK: -0.5, perHPa: -0.012, u: 0.2, windEvery: 7, perHour: -0.004},
		{days: 30, every: 1, rate: 2, phase: 0.3, wander: 0.1, perK: -0.5, perHPa: -0.012, u: 0.2, windEvery: 7},
		{days: 60, every: 1, rate: 2, phase: 0.05, wander: 0.02, trend: 0.03, u: 0.1},
		{days: 21, every: 1, rate: 15, phase: 0.3, wander: 0.05, turnsAt: 8, turns: -0.5, perTurn: 30, u: 0.3},
	} {
		held, tried := map[string]int{}, map[string]int{}
		for seed := range uint64(seeds) {
			tr := m.clock(seed)
			r, err := Analyse(tr.in)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range figures {
				if v, want, ok := f.of(m, tr, r); ok {
					tried[f.name]++
					if v.Covers(want) {
						held[f.name]++
					}
				}
			}
		}
		for _, f := range figures {
			n := float64(tried[f.name])
			if n == 0 {
				continue
			}
			least := 0.95*n - 3*math.Sqrt(0.05*0.95*n)
			line := fmt.Sprintf("%+v: %s: %d of %d", m, f.name, held[f.name], tried[f.name])
			t.Log(line)
			if float64(held[f.name]) < least {
				t.Error(line + " held, too few for 95 %")
			}
		}
	}
}

func factorOf(r Result, name string, want float64) (quantity.Value, float64, bool) {
	for _, f := range r.Factors {
		if f.Name == name {
			return f.PerUnit, want, true
		}
	}
	return quantity.Value{}, 0, false
}

package going

import (
	"fmt"
	"math"
	"testing"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// figure is one of a result, and its truth.
type figure struct {
	name, unit string
	of         func(made, truth, Result) (*quantity.Value, float64)
}

func factorFigure(name string, want func(made) float64) figure {
	return figure{name: name, unit: "s/day", of: func(m made, _ truth, r Result) (*quantity.Value, float64) {
		if f := factorNamed(r, name); f != nil {
			return &f.PerUnit, want(m)
		}
		return nil, 0
	}}
}

var (
	meanRate = figure{name: "mean rate", unit: "s/day", of: func(m made, tr truth, r Result) (*quantity.Value, float64) {
		return r.MeanRate, (tr.at[m.days*24] - tr.at[0]) / float64(m.days)
	}}
	inAWeek = figure{name: "error in a week", unit: "s", of: func(m made, tr truth, r Result) (*quantity.Value, float64) {
		return r.Forecast, tr.at[(m.days+7)*24]
	}}
	trend      = figure{name: "trend", unit: "s/day/day", of: func(m made, _ truth, r Result) (*quantity.Value, float64) { return r.Trend, m.trend }}
	byHeat     = factorFigure(temperature, func(m made) float64 { return m.perK })
	byPressure = factorFigure(pressure, func(m made) float64 { return m.perHPa })
	byWinding  = factorFigure(winding, func(m made) float64 { return m.perHour })
	perTurn    = figure{name: "nut", unit: "s/day a turn", of: func(m made, _ truth, r Result) (*quantity.Value, float64) {
		if r.Nut == nil {
			return nil, 0
		}
		return &r.Nut.PerTurn, m.perTurn
	}}
)

// toZero is the turns that bring the coming week to zero, whatever the spring.
var toZero = figure{name: "turns to zero", unit: "turns", of: func(m made, tr truth, r Result) (*quantity.Value, float64) {
	if r.Nut == nil {
		return nil, 0
	}
	week := (tr.at[(m.days+7)*24] - tr.at[m.days*24]) / 7 // which the simulation leaves to no winding
	return r.Nut.Advice, -(week + m.perHour*float64(m.windEvery)*12) / m.perTurn
}}

// count counts the figures of one simulated clock, a cell each. The record of a seed is
// analysed once for all of them.
func count(t *testing.T, kind string, m made, prepare func(*In), seeds int, figures ...figure) {
	t.Parallel()
	type run struct {
		truth  truth
		result Result
	}
	runs := map[uint64]run{}
	for _, f := range figures {
		held.Count(t, held.Cell{What: "going: " + f.name, Kind: kind, Length: fmt.Sprintf("%d days", m.days), Unit: f.unit, Low: 92, Up: 100, Seeds: seeds,
			Run: func(seed uint64) (quantity.Value, float64, error) {
				r, known := runs[seed]
				if !known {
					r.truth = m.clock(seed)
					if prepare != nil {
						prepare(&r.truth.in)
					}
					var err error
					if r.result, err = Analyse(r.truth.in); err != nil {
						return quantity.Value{}, 0, err
					}
					runs[seed] = r
				}
				v, want := f.of(m, r.truth, r.result)
				if v == nil {
					return quantity.Value{}, 0, fmt.Errorf("no %s", f.name)
				}
				return *v, want, nil
			}})
	}
}

// TestCoverage: over simulated clocks, steady ones and restless ones, the 95 % intervals
// hold what was put in. Few checks make intervals lean on what is usual of clocks, so that
// all may hold. The restless week is unusual, and with fewer seeds chance would hide its
// effect of temperature.
func TestCoverage(t *testing.T) {
	for _, c := range []struct {
		kind string
		made
		seeds   int
		figures []figure
	}{
		{"steady", made{days: 7, every: 1, rate: 8, phase: 0.1, wander: 0.02, u: 0.3},
			60, []figure{meanRate, inAWeek, trend, byHeat}},
		{"restless", made{days: 7, every: 1, rate: -20, phase: 1, wander: 0.2, u: 0.3},
			300, []figure{meanRate, inAWeek, trend, byHeat}},
		{"steel rod", made{days: 7, every: 1, rate: 8, phase: 0.1, wander: 0.02, perK: -0.5, u: 0.3},
			100, []figure{trend}},
		{"restless", made{days: 30, every: 1, rate: -20, phase: 1, wander: 0.2, u: 0.3},
			100, []figure{inAWeek, trend}},
		{"with a great trend", made{days: 7, every: 1, rate: 8, phase: 0.1, wander: 0.02, trend: 0.3, u: 0.3},
			100, []figure{trend}},
		{"steel rod, restless week", made{days: 7, every: 1, rate: -20, phase: 1, wander: 0.2, perK: -0.5, u: 0.3},
			60, []figure{byHeat}},
		{"steel rod, run-down", made{days: 30, every: 1, rate: 2, phase: 0.3, wander: 0, perK: -0.5, perHPa: -0.012, u: 0.2, windEvery: 7, perHour: -0.004},
			60, []figure{meanRate, inAWeek, byHeat, byPressure, byWinding}},
		{"steel rod, restless", made{days: 30, every: 1, rate: 2, phase: 0.3, wander: 0.1, perK: -0.5, perHPa: -0.012, u: 0.2, windEvery: 7},
			60, []figure{meanRate, inAWeek, byHeat, byPressure, byWinding}},
		{"with a trend", made{days: 60, every: 1, rate: 2, phase: 0.05, wander: 0.02, trend: 0.03, u: 0.1},
			60, []figure{meanRate, inAWeek, trend, byHeat, byPressure}},
		{"nut turned", made{days: 21, every: 1, rate: 15, phase: 0.3, wander: 0.05, nut: []turn{{8, -0.5}}, perTurn: 30, u: 0.3},
			60, []figure{meanRate, inAWeek, trend, byHeat, byPressure, perTurn}},
		{"run-down, turned and wound", made{days: 45, every: 1, rate: 6, phase: 0.05, wander: 0, perHour: -0.02, u: 0.05, windEvery: 7, nut: []turn{{42, -0.15}}, perTurn: 30},
			60, []figure{byWinding, perTurn, toZero}},
	} {
		t.Run(fmt.Sprintf("%s, %d days", c.kind, c.days), func(t *testing.T) { count(t, c.kind, c.made, nil, c.seeds, c.figures...) })
	}
}

// TestCoverageOfTheNut: a turn does less than its thread says where the rod is heavy. The
// effect stated holds what it does, whatever the rod and however much the record tells.
func TestCoverageOfTheNut(t *testing.T) {
	const pitch = 0.8e-3
	length := quantity.Value{V: 0.9934, U: 0.0017, K: math.Sqrt(3)}
	thread, err := pendulum.NutPerTurn(pitch, length)
	if err != nil {
		t.Fatal(err)
	}
	for _, record := range []struct {
		kind string
		made
	}{
		{"thread alone", made{days: 14, every: 1, rate: 5, phase: 0.2, wander: 0.03, u: 0.2}},
		{"one turning", made{days: 14, every: 1, rate: 9, phase: 0.2, wander: 0.03, u: 0.2, nut: []turn{{7, -0.25}}}},
		{"three turnings", made{days: 28, every: 1, rate: 12, phase: 0.2, wander: 0.03, u: 0.2, nut: []turn{{7, -0.5}, {14, 0.25}, {21, -0.1}}}},
		{"rough checks", made{days: 10, every: 1, rate: 9, phase: 0.5, wander: 0.05, u: 2, nut: []turn{{5, -0.25}}}},
		{"restless", made{days: 14, every: 1, rate: 9, phase: 2, wander: 0.3, u: 0.5, nut: []turn{{7, -0.25}}}},
	} {
		for _, share := range []float64{0.88, 0.91, 0.94, 0.97, 1} {
			kind := fmt.Sprintf("%s, a turn does %.0f %% of its thread's", record.kind, 100*share)
			t.Run(kind, func(t *testing.T) {
				m := record.made
				m.perTurn = share * thread.V
				count(t, kind, m, func(in *In) { in.Air, in.NutPitch, in.Length = nil, pitch, length }, 50, perTurn)
			})
		}
	}
}

package going

import (
	"math"
	"math/rand/v2"
	"time"

	"evenbeat/sessions"
)

// made is a simulated clock and its record. The simulation is the model's plain
// definition, stepped hour by hour: rate, wandering, heat and air pressure summed
// up. It shares no code with the analysis.
type made struct {
	days           int
	every          float64 // days between checks
	rate           float64
	phase, wander  float64 // s/√day, (s/day)/√day
	perK, perHPa   float64
	perHour, trend float64
	nut            []turn
	perTurn        float64
	u              float64
	windEvery      int
}

// turn is one of the nut, in order of time.
type turn struct {
	day   int
	turns float64
}

type truth struct {
	in    In
	at    []float64 // error at each hour
	rates []float64
}

var begin = time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)

func (m made) clock(seed uint64) truth {
	const perDay = 24
	rng := rand.New(rand.NewPCG(seed, 77))
	var tr truth
	hours := m.days * perDay
	temp, press, wind := 0.0, 0.0, 0.0
	e, own := 3*rng.NormFloat64(), 0.0
	next := 0.0
	for h := range hours + 7*perDay + 1 {
		t := float64(h) / perDay
		at := begin.Add(time.Duration(h) * time.Hour)
		tr.at = append(tr.at, e)
		if h <= hours {
			if t >= next-1e-9 {
				tr.in.Checks = append(tr.in.Checks, sessions.Check{At: at, ErrorS: e + m.u*rng.NormFloat64(), U: m.u})
				next += m.every
			}
			if h%3 == 0 {
				tr.in.Air = append(tr.in.Air, sessions.Air{At: at, TemperatureC: 18 + temp, PressureHPa: 1013 + press, HasTemperature: true, HasPressure: true})
			}
			if m.windEvery > 0 && h%(m.windEvery*perDay) == 0 {
				tr.in.Events = append(tr.in.Events, sessions.Event{At: at, Kind: sessions.EventWound})
				wind = 0
			}
			for _, n := range m.nut {
				if h == n.day*perDay {
					tr.in.Events = append(tr.in.Events, sessions.Event{At: at, Kind: sessions.EventAdjusted, Turns: n.turns, HasTurns: true})
				}
			}
		}
		rate := m.rate + own + m.trend*t
		if h <= hours {
			rate += m.perK*temp + m.perHPa*press + m.perHour*wind
		}
		for _, n := range m.nut {
			if h >= n.day*perDay {
				rate += n.turns * m.perTurn
			}
		}
		tr.rates = append(tr.rates, rate)
		e += rate/perDay + m.phase*math.Sqrt(1.0/perDay)*rng.NormFloat64()
		own += m.wander * math.Sqrt(1.0/perDay) * rng.NormFloat64()
		// A room: memory of two days for heat, three for the weather.
		temp += -temp/(2*perDay) + 2*math.Sqrt(2.0/(2*perDay))*rng.NormFloat64()
		press += -press/(3*perDay) + 9*math.Sqrt(2.0/(3*perDay))*rng.NormFloat64()
		wind++
	}
	return tr
}

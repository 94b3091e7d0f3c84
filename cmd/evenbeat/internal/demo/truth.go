package demo

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"evenbeat/analysis/spring"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// at returns the time of day of t seconds since the start of the scene.
func (s *Scene) at(t float64) time.Time {
	return s.sc.Start.Add(time.Duration(t * float64(time.Second)))
}

// lastCheck returns the time of the last comparison of the dial, in seconds since the
// start of the scene.
func (s *Scene) lastCheck() float64 {
	span := s.clock.Config().Span - 3600
	return checksFrom + math.Floor((span-checksFrom)/checkEvery)*checkEvery
}

// letGo compares the dial twice a day, notes the winding, and keeps the air each
// hour.
func (s *Scene) letGo(ctx context.Context, b *book.Book, clock sessions.Clock) error {
	var checks []sessions.Check
	var air []sessions.Air
	var events []sessions.Event
	for t := checksFrom; t <= s.lastCheck(); t += checkEvery {
		checks = append(checks, sessions.Check{ClockID: clock.ID, At: s.at(t), ErrorS: s.clock.ReadDial(t), U: s.sc.Clock.DialReading})
	}
	for t := 0.0; t <= s.lastCheck(); t += airEvery {
		x := s.clock.Air(t)
		air = append(air, sessions.Air{ClockID: clock.ID, At: s.at(t), TemperatureC: x.TemperatureC, PressureHPa: x.PressureHPa,
			HumidityPct: x.HumidityPct, HasTemperature: x.HasTemperature, HasPressure: x.HasPressure, HasHumidity: x.HasHumidity})
	}
	for _, t := range s.clock.Config().Wound {
		if t <= s.lastCheck() {
			events = append(events, sessions.Event{ClockID: clock.ID, At: s.at(t), Kind: sessions.EventWound})
		}
	}
	_, err := b.Import(ctx, book.Incoming{Checks: checks, Air: air, Events: events})
	return err
}

// WriteTruth writes what was found beside the simulation's truth.
func (s *Scene) WriteTruth(w io.Writer, f plots.Findings) error {
	r := render.New(w)
	r.Printf("\n")
	r.Head("Found, and the simulation's truth")
	all := s.Compare(f)
	held := 0
	for _, c := range all {
		word := "outside"
		if c.Holds {
			word, held = "holds", held+1
		}
		found := quantity.Value{V: c.Found, U: c.Half, K: 1}
		r.Printf("  %-22s %-24s truth %-11s %s\n", c.What, found.Full(c.Unit), quantity.Minus(fmt.Sprintf("%.6g", c.Truth)), word)
	}
	r.Printf("  %-22s %-24s truth %-11s %s\n", "verdict on the length", f.Spring.Verdict, s.TrueVerdict(), s.Judge(f.Spring.Verdict))
	r.Say(fmt.Sprintf("%d of %d intervals hold the truth; 95 %% intervals miss it one time in twenty.", held, len(all)))
	return r.Err()
}

// Comparison is one finding beside the truth.
type Comparison struct {
	What  string  `json:"what"`   // name of the figure
	Unit  string  `json:"unit"`   // of found, half95 and truth
	Found float64 `json:"found"`  // the estimate
	Half  float64 `json:"half95"` // half of its 95 % interval
	Truth float64 `json:"truth"`  // what the simulation knows
	Holds bool    `json:"holds"`  // the interval holds the truth
}

// Compare sets findings beside the truth.
func (s *Scene) Compare(f plots.Findings) []Comparison {
	var all []Comparison
	add := func(what, unit string, v *quantity.Value, truth, scale float64) {
		if v != nil {
			x := v.Scale(scale)
			all = append(all, Comparison{what, unit, x.V, x.Half95(), truth * scale, v.Covers(truth)})
		}
	}
	b := s.sc.Barrel
	if r := f.Spring; r != nil {
		add("bore", "mm", r.Bore, b.Bore, 1e3)
		add("arbor", "mm", r.Arbor, b.Arbor, 1e3)
		add("strip thickness", "mm", r.Strip, b.Strip, 1e3)
		add("ideal length", "mm", r.IdealLength, b.IdealLength(), 1e3)
		add("fill", "", r.Fill, b.Fill(), 1)
		add("turns", "", r.Turns, b.Turns(), 1)
	}
	if r := f.Rate; r != nil {
		q := r.Rate.Value
		add("rate in the hour", "s/day", &q, s.clock.MeanRate(timingFrom, timingFrom+timingFor), 1)
		add("beat error", "ms", &r.BeatError, math.Abs(s.clock.TickTock(timingFrom+timingFor/2))/2, 1e3)
		add("sensor's resonator", "ppm", &r.TimeBase.OffsetPPM, s.sc.Clock.ResonatorPPM, 1)
	}
	if g := f.Going; g != nil {
		add("mean rate of the days", "s/day", g.MeanRate, s.clock.MeanRate(checksFrom, s.lastCheck()), 1)
		add("error of the dial now", "s", g.ErrorNow, s.clock.DialError(s.lastCheck()), 1)
		for _, x := range g.Factors {
			if x.Name == "temperature" && x.Significant {
				add("temperature", "s/day/K", &x.PerUnit, s.sc.Clock.Temperature, 1)
			}
		}
	}
	return all
}

// TrueVerdict is what should be said of the spring.
func (s *Scene) TrueVerdict() spring.Verdict {
	l := s.bench.Settings.Spring
	switch fill := s.sc.Barrel.Fill(); {
	case fill >= 1:
		return spring.DoesNotGo
	case fill < l.FillLow:
		return spring.Short
	case fill > l.FillHigh:
		return spring.Long
	}
	return spring.Fits
}

// Judge says whether a verdict on the spring holds, is left open or is wrong.
func (s *Scene) Judge(found spring.Verdict) string {
	switch found {
	case s.TrueVerdict():
		return "holds"
	case spring.CannotTell:
		return "left open"
	}
	return "wrong"
}

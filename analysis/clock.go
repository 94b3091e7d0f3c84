package analysis

import (
	"cmp"
	"fmt"
	"math"
	"time"

	"evenbeat/analysis/pendulum"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/train"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// ClockFindings is what follows from a clock's description and its life so far. What is
// not known is absent.
type ClockFindings struct {
	Name            string          `json:"name"`                        // as the book has it
	Train           string          `json:"train,omitempty"`             // teeth over leaves, from the barrel to the escape wheel
	BeatsPerHour    float64         `json:"beats_per_hour,omitempty"`    // what the clock should beat
	IntervalS       float64         `json:"interval_s,omitempty"`        // from one beat to the next
	BarrelTurnHours float64         `json:"barrel_turn_hours,omitempty"` // hours in which the barrel turns once
	Arbors          []train.Arbor   `json:"arbors,omitempty"`
	PendulumLength  *quantity.Value `json:"pendulum_length_m,omitempty"`      // of a simple pendulum that beats so
	RodPerKelvin    *quantity.Value `json:"rod_s_per_day_per_k,omitempty"`    // for a rise of 1 K, were all the weight in the bob
	NutPerTurn      *quantity.Value `json:"nut_s_per_day_per_turn,omitempty"` // for a turn that raises the bob, were all the weight in it
	LastWound       *time.Time      `json:"last_wound,omitempty"`             // when a winding was last noted
	WindBy          *time.Time      `json:"wind_by,omitempty"`                // when it may stop, if it isn't wound before
	GoesAtLeastH    float64         `json:"goes_at_least_h,omitempty"`        // lower end of the hours that the spring drives it
	Reasons         []string        `json:"reasons,omitempty"`
}

// ClockOptions completes what the record lacks.
type ClockOptions struct {
	// Gravity where the clock stands, m/s²; zero means that the place is not known.
	Gravity quantity.Value
	// Spring is the spring's fit. Its hours of going give a time to wind by.
	Spring *spring.Result
}

// Clock finds what follows from a clock's description: train, beats, the pendulum for
// them, and when it must be wound. The error names a train or rod that can't be read.
func Clock(rec sessions.Record, o ClockOptions) (ClockFindings, error) {
	c := rec.Clock
	f := ClockFindings{Name: c.Name, Train: c.Train, BeatsPerHour: c.BeatsPerHour}
	tr, err := trainOf(c)
	if err != nil {
		return ClockFindings{}, err
	}
	if tr != nil {
		f.BeatsPerHour, _ = tr.BeatsPerHour().Float64()
		f.BarrelTurnHours = tr.BarrelTurnHours()
		f.Arbors = tr.Arbors()
	}
	if f.BeatsPerHour > 0 && !math.IsInf(f.BeatsPerHour, 0) {
		f.IntervalS = 3600 / f.BeatsPerHour
		if err := f.pendulum(c, o.Gravity); err != nil {
			return ClockFindings{}, err
		}
	}
	f.winding(rec, o.Spring)
	return f, nil
}

// trainOf returns the clock's train, nil if none is noted.
func trainOf(c sessions.Clock) (*train.Train, error) {
	if c.Train == "" {
		return nil, nil
	}
	t, err := parseTrain(c.Train, c.BeatsPerTooth, c.HourArbor)
	if err != nil {
		return nil, fmt.Errorf("clock %s: %w", c.Name, err)
	}
	return &t, nil
}

// parseTrain reads a train; 0 stands for the usual value.
func parseTrain(text string, beatsPerTooth, hourArbor int) (train.Train, error) {
	return train.Parse(text, cmp.Or(beatsPerTooth, train.UsualBeatsPerTooth), cmp.Or(hourArbor, train.UsualHourArbor))
}

// pendulum fills in the pendulum for the beat. A beat too fast for one, with neither rod
// nor nut noted, is taken for a balance's.
func (f *ClockFindings) pendulum(c sessions.Clock, g quantity.Value) error {
	if f.IntervalS < fastestPendulum && c.Rod == "" && c.NutPitch == 0 {
		f.Reasons = append(f.Reasons, "It beats too fast for a pendulum, so no length is given.")
		return nil
	}
	if g.V == 0 {
		g = pendulum.GravityAnywhere()
		f.Reasons = append(f.Reasons, "It is not known where the clock stands, so the pendulum's length is for anywhere from equator to pole: give a latitude in the settings to narrow it.")
	}
	l, err := pendulum.Length(f.IntervalS, g)
	if err != nil {
		return err
	}
	f.PendulumLength = &l
	if c.NutPitch > 0 {
		n, err := pendulum.NutPerTurn(c.NutPitch, l)
		if err != nil {
			return fmt.Errorf("clock %s: %w", c.Name, err)
		}
		f.NutPerTurn = &n
	}
	if c.Rod != "" {
		rod, err := pendulum.ParseRod(c.Rod)
		if err != nil {
			return fmt.Errorf("clock %s: %w", c.Name, err)
		}
		k := rod.PerKelvin()
		f.RodPerKelvin = &k
	}
	return nil
}

// winding finds when the clock was last wound and when it must be again: after the lower
// end of the hours of going, so that it is wound before it may stop.
func (f *ClockFindings) winding(rec sessions.Record, s *spring.Result) {
	zone := zoneOf(rec.Clock)
	for _, e := range rec.Events {
		if e.Kind == sessions.EventWound && (f.LastWound == nil || e.At.After(*f.LastWound)) {
			at := e.At.In(zone)
			f.LastWound = &at
		}
	}
	if s == nil || s.GoingHours == nil {
		return
	}
	// A Duration ends at 292 years.
	h := s.GoingHours.Low95()
	if !(h > 0 && h < 1e6) || s.GoingHours.Bound != "" {
		return
	}
	if f.GoesAtLeastH = h; f.LastWound == nil {
		return
	}
	by := f.LastWound.Add(time.Duration(h * float64(time.Hour))).Truncate(time.Minute)
	f.WindBy = &by
	f.Reasons = append(f.Reasons, fmt.Sprintf("By its spring it goes %s on one winding; the time to wind by is worked out from the shortest of that.", s.GoingHours.Text("h")))
}

// zoneOf is the zone in which a clock's times are written; UTC where it isn't known here.
func zoneOf(c sessions.Clock) *time.Location {
	if zone, err := time.LoadLocation(c.Zone); err == nil {
		return zone
	}
	return time.UTC
}

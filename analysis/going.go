package analysis

import (
	"fmt"
	"slices"
	"time"

	"evenbeat/analysis/going"
	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// fastestPendulum is the shortest beat of a pendulum in seconds. A faster clock is taken
// to have a balance, unless a rod or a nut is noted (common practice, no source).
const fastestPendulum = 0.28

// GoingOptions bounds and completes the record.
type GoingOptions struct {
	// From and To bound the checks that count; zero means no bound.
	From, To time.Time
	// Zone is the zone of times in sentences; nil means the clock's own, else UTC.
	Zone *time.Location
	// Length is the pendulum's effective length in metres. Zero means the length for its
	// beat, wherever the clock stands.
	Length quantity.Value
}

// Going finds how a clock went over days and weeks from its record: see going.Analyse.
// Amplitudes are the kept readings of the dimension amplitude, in degrees.
func Going(rec sessions.Record, o GoingOptions) (going.Result, error) {
	in, err := goingIn(rec, o)
	if err != nil {
		return going.Result{}, err
	}
	return going.Analyse(in)
}

// Doubt returns what is doubtful of a check that isn't recorded yet, nil for nothing.
// Its errors are those of Going.
func Doubt(rec sessions.Record, check sessions.Check, o GoingOptions) (*going.Doubt, error) {
	check.ID = 0
	rec.Checks = append(slices.Clone(rec.Checks), check)
	in, err := goingIn(rec, o)
	if err != nil {
		return nil, err
	}
	doubts, err := in.Doubts()
	if i := slices.IndexFunc(doubts, func(d going.Doubt) bool { return d.Check == 0 }); i >= 0 {
		return &doubts[i], nil
	}
	return nil, err
}

func goingIn(rec sessions.Record, o GoingOptions) (going.In, error) {
	in := going.In{Checks: rec.Checks, Events: rec.Events, Air: rec.Air, From: o.From, To: o.To, Zone: o.Zone, NutPitch: rec.Clock.NutPitch}
	if in.Zone == nil && rec.Clock.Zone != "" {
		zone, err := time.LoadLocation(rec.Clock.Zone)
		if err != nil {
			return going.In{}, fmt.Errorf("zone %q of clock %s is not known here: correct it with `evenbeat clock edit --zone`", rec.Clock.Zone, rec.Clock.Name)
		}
		in.Zone = zone
	}
	for _, r := range rec.Readings {
		if r.IsAmplitude() && r.State == sessions.Kept {
			in.Amplitudes = append(in.Amplitudes, going.Sample{At: r.At, Value: r.Value})
		}
	}
	if rec.Clock.Rod != "" {
		rod, err := pendulum.ParseRod(rec.Clock.Rod)
		if err != nil {
			return going.In{}, fmt.Errorf("clock %s: %w", rec.Clock.Name, err)
		}
		in.Rod = &rod
	}
	interval := 0.0
	if rec.Clock.BeatsPerHour > 0 {
		interval = 3600 / rec.Clock.BeatsPerHour
	}
	in.Balance = in.Rod == nil && in.NutPitch == 0 && interval > 0 && interval < fastestPendulum
	in.Length = o.Length
	if in.Length.V == 0 && interval > 0 && !in.Balance {
		length, err := pendulum.Length(interval, pendulum.GravityAnywhere())
		if err != nil {
			return going.In{}, fmt.Errorf("clock %s: %w", rec.Clock.Name, err)
		}
		in.Length = length
	}
	return in, nil
}

package live

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// Lengths opens a port, or with auto all of them, for instruments that measure lengths:
// one whose profile is named, or "" for what is recognised. Without a port readings are
// typed. Of ports that can't be opened it tells passedOver.
func (b Bench) Lengths(port, profile string, now func() devices.Stamp, passedOver func(error)) ([]Input, error) {
	switch {
	case profile != "":
		ins, err := b.Instrument(profile)
		if err != nil || port == "" {
			return []Input{{Instrument: ins}}, err
		}
		in, err := b.Open(port, ins, now)
		return []Input{in}, err
	case port == "":
		return make([]Input, 1), nil
	}
	s, err := b.NewSearch(SearchOptions{Port: port, Expected: "caliper", Now: now, Wanted: MeasuresLengths}, passedOver)
	if err != nil {
		return nil, err
	}
	return s.Apart(), nil
}

// Beats opens a port for a beat sensor: one whose profile is named, or "" for what is
// recognised.
func (b Bench) Beats(port, profile string, now func() devices.Stamp, passedOver func(error)) (Input, error) {
	return b.sensor(SearchOptions{Port: port, Expected: "beat-counter", Now: now, Wanted: HearsBeats}, profile, "a beat sensor's", passedOver)
}

// SensorOfAir opens a port for a sensor of the air: one whose profile is named, or "" for
// what is recognised. auto leaves the ports that are taken to others.
func (b Bench) SensorOfAir(port, profile string, taken []string, now func() devices.Stamp, passedOver func(error)) (Input, error) {
	return b.sensor(SearchOptions{Port: port, Taken: taken, Expected: "air-text", Now: now, Wanted: FeelsAir}, profile, "that of a sensor of the air", passedOver)
}

// sensor opens a port for a sensor of the kind that is wanted, which whose names.
func (b Bench) sensor(o SearchOptions, profile, whose string, passedOver func(error)) (in Input, err error) {
	if profile == "" {
		in.Search, err = b.NewSearch(o, passedOver)
		return in, err
	}
	ins, err := b.Instrument(profile)
	if err != nil {
		return in, err
	}
	if !o.Wanted(ins.Profile) {
		return in, &CallError{fmt.Errorf("profile %s is a %s: name %s", profile, ins.Profile.Kind, whose)}
	}
	return b.Open(o.Port, ins, o.Now)
}

// Begin begins a plan of a clock's part where the record stops; "" is the plan's own part.
func Begin(ctx context.Context, b interface {
	Readings(ctx context.Context, clock int64) ([]sessions.Reading, error)
}, clock sessions.Clock, p plan.Plan, part string, w plan.Wish) (*plan.Progress, error) {
	earlier, err := b.Readings(ctx, clock.ID)
	if err != nil {
		return nil, err
	}
	part = cmp.Or(part, p.Part)
	earlier = slices.DeleteFunc(earlier, func(r sessions.Reading) bool { return r.Part != part })
	progress, err := plan.Begin(p, w, earlier)
	if err != nil {
		return nil, &CallError{err}
	}
	return progress, nil
}

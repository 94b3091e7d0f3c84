package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
)

func newPortsWatchCmd(a *app) *cobra.Command {
	var profile, span string
	c := &cobra.Command{
		Use:   "watch PORT",
		Short: "Find out what speaks at a port, and show what it says",
		Long: `Show what arrives at a port, and what it means. Without --profile port settings and
wire formats are tried until one makes sense of it; then the lines to keep in the
settings file are written. With auto all ports are tried, and the one wins that
speaks first. An instrument that sends only when it is asked is never heard so: name
its profile.`,
		Example: `  evenbeat ports watch /dev/ttyUSB0
  evenbeat ports watch /dev/ttyUSB0 --profile caliper`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			ctx, stop, err := withinSpan(c.Context(), span)
			if err != nil {
				return err
			}
			defer stop()
			return a.watch(ctx, args[0], profile)
		},
	}
	c.Flags().StringVar(&profile, "profile", "", "read the bytes as this `PROFILE` says (else they are recognised)")
	c.Flags().StringVar(&span, "for", "", "watch for this `SPAN` (else until Ctrl-C)")
	return c
}

// watched is one thing that arrived.
type watched struct {
	Time  string   `json:"time"`
	Text  string   `json:"text,omitempty"`
	Value *float64 `json:"value_m,omitempty"`
	Count *uint64  `json:"count,omitempty"`
	// UTC is what a time reference said, with a date; of the day alone without one.
	UTC     string `json:"utc,omitempty"`
	ByPulse bool   `json:"by_pulse,omitempty"`
	Doubted bool   `json:"doubted,omitempty"` // by the reference itself
	Fault   string `json:"fault,omitempty"`
}

func (a *app) watch(ctx context.Context, name, profile string) error {
	if profile == "" {
		return a.watchUnknown(ctx, name)
	}
	ins, err := a.instrument(profile)
	if err != nil {
		return err
	}
	p, err := a.openPort(name, ins)
	if err != nil {
		return err
	}
	a.say("Watching %s as %s; press the instrument's button. Ctrl-C ends it.\n", p.Name(), ins.profile.Name)
	return listen(ctx, p, ins.decoder, a.showAll)
}

// watchUnknown finds out what speaks at a port, says what to keep of that, and shows
// what it says.
func (a *app) watchUnknown(ctx context.Context, name string) error {
	s, err := a.seek(name, "text-length", true, func(configs.Profile) bool { return true })
	if err != nil {
		return err
	}
	s.expected.profile.Format = "" // nothing is expected: the instrument must show itself
	s.tell = a.showSearch
	a.say("Listening at %s; press the instrument's button, or let the clock beat. Ctrl-C ends it.\n", name)
	h, ins, err := s.find(ctx)
	if err != nil {
		return err
	}
	if h == nil {
		a.say("Nothing was recognised. An instrument that must be asked needs its profile named: --profile polled-length\n")
		return nil
	}
	if err := a.showFound(h); err != nil {
		return err
	}
	return listen(ctx, h, ins.decoder, a.showAll)
}

// searchLine is the line of JSON that tells how far a search has come.
type searchLine struct {
	Port    string        `json:"port"`
	State   string        `json:"state"` // noise, between, found
	Setting string        `json:"setting"`
	Heard   string        `json:"heard,omitempty"`
	Formats []formatLine  `json:"formats,omitempty"`
	Profile *keptSettings `json:"profile,omitempty"`
}

type formatLine struct {
	Format string  `json:"format"`
	Frames int     `json:"frames"`
	Bits   float64 `json:"odds_bits"` // noise looks so once in 2 to this power
}

// keptSettings are the keys of a profile, by the names that the settings file has.
type keptSettings struct {
	Format    string  `json:"format"`
	Baud      int     `json:"baud"`
	Bits      int     `json:"bits"`
	Parity    string  `json:"parity"`
	Stop      float64 `json:"stop"`
	NeedsUnit bool    `json:"needs_unit,omitempty"`
}

// showSearch writes how far the search at a port has come. What is found is written
// by showFound, when it is sure that no other port was faster.
func (a *app) showSearch(name string, set port.Settings, f recognise.Finding) {
	if f.State == recognise.Found || f.State == recognise.Silent {
		return
	}
	if !a.asJSON {
		a.tellSearch(name, set, f)
		if f.State == recognise.Noise {
			a.say("    heard %.60q\n", f.Heard)
		}
		return
	}
	l := searchLine{Port: name, State: "noise", Setting: framing(set), Heard: string(f.Heard)}
	if f.State == recognise.Between {
		l.State, l.Formats = "between", formatLines(f.Candidates...)
	}
	if err := render.JSON(a.out, l, false); err != nil {
		a.say("  ! %v\n", err)
	}
}

func formatLines(all ...recognise.Candidate) []formatLine {
	lines := make([]formatLine, len(all))
	for i, c := range all {
		lines[i] = formatLine{c.Format, c.Frames, math.Round(c.Bits*10) / 10}
	}
	return lines
}

func (a *app) showFound(h *recognise.Heard) error {
	s := h.Settings
	if a.asJSON {
		return render.JSON(a.out, searchLine{Port: h.Port, State: "found", Setting: framing(s), Formats: formatLines(h.Candidate),
			Profile: &keptSettings{h.Format, s.Baud, s.DataBits, h.Parity, s.StopBits, h.NeedsUnit}}, false)
	}
	r := render.New(a.out)
	r.Say(fmt.Sprintf("%s at %s: %s.", h.Port, framing(s), howSure(h.Candidate)))
	r.Printf("To know it from its first byte on, keep these lines in %s:\n\n%s\n", a.settingsFile(), profileLines(h))
	return r.Err()
}

// settingsFile names the file in which settings are kept.
func (a *app) settingsFile() string {
	switch {
	case a.loaded.File != "":
		return a.loaded.File
	case a.loaded.Usual != "":
		return a.loaded.Usual
	}
	return "a file named with --config"
}

func (a *app) showAll(said []devices.Said) error {
	for _, s := range said {
		if err := a.showSaid(s); err != nil {
			return err
		}
	}
	return nil
}

func (a *app) showSaid(s devices.Said) error {
	line := watched{Time: utcTime(s.At).Format(time.RFC3339Nano), Text: s.Text, Fault: string(s.Fault)}
	meaning := ""
	switch s.Kind {
	case devices.KindReading:
		line.Value = &s.Reading.Value
		meaning = a.units().Size(s.Reading.Value, 3)
		if s.Reading.Dim != devices.DimLength {
			line.Value, meaning = nil, fmt.Sprintf("%g (SI)", s.Reading.Value)
		}
	case devices.KindBeat:
		line.Count = &s.Beat.Count
		meaning = fmt.Sprintf("beat, count %d", s.Beat.Count)
	case devices.KindAir:
		meaning = airText(s.Air)
	case devices.KindTime:
		line.UTC, line.ByPulse, line.Doubted = timeText(s.Time), s.Time.ByPulse, !s.Time.Valid
		meaning = "time " + line.UTC
		if line.Doubted {
			meaning += ", which the reference itself doubts"
		}
		if line.ByPulse {
			meaning += ", by pulse"
		}
	case devices.KindFault:
		meaning = "fault: " + line.Fault
	}
	if a.asJSON {
		return render.JSON(a.out, line, false)
	}
	_, err := io.WriteString(a.out, fmt.Sprintf("%s  %-24q %s\n", utcTime(s.At).Format("15:04:05.000"), s.Text, meaning))
	return err
}

// airText writes what was measured of the air.
func airText(a devices.Air) string {
	var parts []string
	if a.HasTemperature {
		parts = append(parts, fmt.Sprintf("%g °C", a.TemperatureC))
	}
	if a.HasPressure {
		parts = append(parts, fmt.Sprintf("%g hPa", a.PressureHPa))
	}
	if a.HasHumidity {
		parts = append(parts, fmt.Sprintf("%g %%", a.HumidityPct))
	}
	return "air " + strings.Join(parts, ", ")
}

// timeText writes the time that a reference told.
func timeText(t devices.Time) string {
	switch {
	case !t.Has:
		return "not known yet"
	case t.OfDay:
		return time.Unix(0, t.Nanos).UTC().Format("15:04:05.999999999")
	}
	return time.Unix(0, t.Nanos).UTC().Format(time.RFC3339Nano)
}

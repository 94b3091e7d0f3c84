package main

import (
	"context"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/terminal"
	"evenbeat/devices/port"
)

func newPortsWatchCmd(a *app) *cobra.Command {
	var profile, span string
	c := &cobra.Command{
		Use:   "watch PORT",
		Short: "Find out what speaks at a port, and show what it says",
		Long: `Show what arrives at a port, and what it means. Without --profile, port settings and
wire formats are tried until one fits; then the lines to keep in the settings file are
printed. With auto, all ports are tried and the first that speaks wins. An instrument
that sends only when asked stays silent: name its profile.`,
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

func (a *app) watch(ctx context.Context, name, profile string) error {
	w := terminal.Watch{Streams: a.streams(), Units: a.units(), SettingsFile: a.settingsFile()}
	if profile == "" {
		return a.watchUnknown(ctx, name, w)
	}
	ins, err := a.bench().Instrument(profile)
	if err != nil {
		return err
	}
	in, err := a.bench().Open(name, ins, port.HostClock())
	if err != nil {
		return err
	}
	a.say("Watching %s as %s; press the instrument's button. Ctrl-C ends it.\n", in.Port, ins.Profile.Name)
	return live.Listen(ctx, in.Source, ins.Decoder, w.Said)
}

// watchUnknown finds out what speaks at a port, says what to keep of that, and shows
// what it says.
func (a *app) watchUnknown(ctx context.Context, name string, w terminal.Watch) error {
	s, err := a.bench().NewSearch(live.SearchOptions{Port: name, Expected: "text-length", Anything: true, Pins: true, Now: port.HostClock()}, w.PassedOver)
	if err != nil {
		return err
	}
	a.say("Listening at %s; press the instrument's button, let the clock beat, or wait for what a sensor sends. Ctrl-C ends it.\n", name)
	h, ins, err := s.Find(ctx, w.Step, w.PassedOver)
	if err != nil {
		return err
	}
	if h == nil {
		a.say("Nothing was recognised. An instrument that must be asked needs its profile named: --profile polled-length\n")
		return nil
	}
	if err := w.Found(h); err != nil {
		return err
	}
	return live.Listen(ctx, h, ins.Decoder, w.Said)
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

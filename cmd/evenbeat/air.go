package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type airOptions struct {
	port, profile, every, span string
	wait                       bool
}

func newAirCmd(a *app) *cobra.Command {
	var o airOptions
	c := &cobra.Command{
		Use:   "air",
		Short: "Record the air about a clock, for what it does to the rate",
		Long: `Listen to a sensor that sends temperature, pressure or humidity as text, and keep in the
book what it says. With a week of checks of the dial beside it, going tells what the
temperature and the pressure do to the rate. What the sensor may send is in evenbeat
help sensor; without --profile it is recognised.

A sensor may send each second, and a row each second would be 86,400 a day. So a row is
the mean of what came in a minute, or in the span that --every names: what going needs is
the mean from check to check, and that is the same; 10m does for months. What came since
the last row is lost if the computer loses its power. Every line as received is kept only
with keep_raw in the settings. A silence of 15 minutes, or of three rows where that is
longer, is told.

With --wait the port need not be there yet. Run by systemd as Type=notify, it tells that
it began and goes on; evenbeat-air@.service, which comes with the program, is such a unit.
To record the air while a clock is timed, see evenbeat time --air.`,
		Example: `  evenbeat air --port /dev/ttyUSB0
  evenbeat air --port auto --every 10m --for 7d`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.air(c.Context(), o) },
	}
	a.clockFlag(c)
	f := c.Flags()
	f.StringVar(&o.port, "port", "", "the serial `PORT` of the sensor, or auto")
	f.StringVar(&o.profile, "profile", "", "the sensor's `PROFILE` (see evenbeat ports profiles; without it the sensor is recognised)")
	f.StringVar(&o.every, "every", "1m", "keep one row for each `SPAN`: 1s to 6h")
	f.StringVar(&o.span, "for", "", "listen for this `SPAN`: 10m, 12h, 7d (else until Ctrl-C)")
	f.BoolVar(&o.wait, "wait", false, "wait for a port that is not there yet")
	return c
}

func (a *app) air(ctx context.Context, o airOptions) error {
	if o.port == "" {
		return badCall("--port: name the serial port of the sensor, or auto")
	}
	every, err := quantity.ParseSpan(o.every)
	if err == nil && (every < time.Second || every > 6*time.Hour) {
		err = quantity.BadInput("span of time", o.every, "must be from 1s to 6h")
	}
	if err != nil {
		return flagError("every", err)
	}
	ctx, stop, err := withinSpan(ctx, o.span)
	if err != nil {
		return err
	}
	defer stop()
	now := port.HostClock()
	in, err := a.awaited(ctx, o.wait, func() (live.Input, error) {
		return a.bench().SensorOfAir(o.port, o.profile, nil, now, a.streams().PassedOver)
	})
	if err != nil || in.Source == nil && in.Search == nil {
		return err
	}
	return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
		return a.streams().Air(ctx, a.bench().NewAir(clock, in, every, now), b, a.zone(clock))
	})
}

// airBeside has a session of timing listen to the sensor of the air that a call names.
// With --wait that one's port too may be there later.
func (a *app) airBeside(o timeOptions, opt *live.TimingOptions) error {
	switch o.air.port {
	case "":
		return nil
	case "auto":
	case o.port, o.reference.port:
		return badCall("--air %s: another instrument is at that port: name the air sensor's", o.air.port)
	}
	opt.AirLater = o.wait
	opt.Air = func(ctx context.Context, taken []string) (live.Input, error) {
		return a.awaited(ctx, o.wait, func() (live.Input, error) {
			return a.bench().SensorOfAir(o.air.port, o.air.profile, taken, opt.Now, a.streams().PassedOver)
		})
	}
	return nil
}

// airFlag names a sensor of the air that time listens to.
type airFlag struct{ port, profile string }

func (o *airFlag) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.port, "air", "", "the serial `PORT` of a sensor of the air, which is recorded too, or auto")
	f.StringVar(&o.profile, "air-profile", "", "its `PROFILE` (without it the sensor is recognised)")
}

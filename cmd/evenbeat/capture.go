package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	"evenbeat/devices/capture"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
)

func newCaptureCmd(a *app) *cobra.Command {
	var out, profile, span string
	c := &cobra.Command{
		Use:   "capture PORT",
		Short: "Keep the raw bytes of a port with their times of arrival",
		Long: `Keep what arrives at a port, byte by byte with its time of arrival, as text that
replay plays back. Ctrl-C, or the end of --for, ends it.`,
		Example: `  evenbeat capture /dev/ttyUSB0 --profile caliper --out bore.capture`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return badCall("--out: name the file to write")
			}
			ctx, stop, err := withinSpan(c.Context(), span)
			if err != nil {
				return err
			}
			defer stop()
			return a.capture(ctx, args[0], profile, out)
		},
	}
	c.Flags().StringVar(&out, "out", "", "the `FILE` to write")
	c.Flags().StringVar(&profile, "profile", "caliper", "set the port as this `PROFILE` says")
	c.Flags().StringVar(&span, "for", "", "capture for this `SPAN` (else until Ctrl-C)")
	return c
}

func (a *app) capture(ctx context.Context, name, profile, out string) error {
	ins, err := a.bench().Instrument(profile)
	if err != nil {
		return err
	}
	in, err := a.bench().Open(name, ins, port.HostClock())
	if err != nil {
		return err
	}
	w, shut, err := live.CreateCapture(out, fmt.Sprintf("port %s, profile %s", in.Port, ins.Profile.Name))
	if err != nil {
		return errors.Join(asCall(err), in.Close(ctx))
	}
	chunks := int64(0)
	a.say("Keeping what arrives at %s; Ctrl-C ends it.\n", in.Port)
	err = in.Source.Run(ctx, func(c devices.Chunk) error {
		chunks++
		return errors.Join(w.Write(c), w.Flush())
	})
	err = errors.Join(err, w.Flush(), shut())
	if err == nil {
		a.say("%s: %d %s kept.\n", out, chunks, quantity.Plural(chunks, "piece", "pieces"))
	}
	return err
}

func newReplayCmd(a *app) *cobra.Command {
	var speed string
	c := &cobra.Command{
		Use:   "replay FILE",
		Short: "Play captured bytes back as an instrument",
		Long: `Play a capture back as an instrument on a pseudo-terminal, whose name is printed. It
begins when a program opens that port.`,
		Example: `  evenbeat replay bore.capture --speed max`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			play := capture.Replay{Announce: a.announce}
			if speed != "max" {
				x, err := strconv.ParseFloat(speed, 64)
				if err != nil || !(x > 0 && x <= 1e6) {
					return badCall("--speed %q: write how many times as fast, or max", speed)
				}
				play.Speed = x
			}
			if args[0] != "-" {
				// Playing waits until somebody opens the port, so a file that can't
				// be played is refused before.
				if err := a.withInput(args[0], playable); err != nil {
					return err
				}
			}
			return a.withInput(args[0], func(in io.Reader) error { return play.Run(c.Context(), in) })
		},
	}
	c.Flags().StringVar(&speed, "speed", "1", "play `N` times as fast as it was captured, or max")
	return c
}

// playedAt is the answer in JSON, on one line.
type playedAt struct {
	Port string `json:"port"` // name of the pseudo-terminal that it plays on
}

func (a *app) announce(name string) error {
	if a.asJSON {
		return a.streams().Line("", playedAt{name})
	}
	_, err := fmt.Fprintln(a.out, name)
	return err
}

// playable reads a capture to its end, or to the first line that is wrong.
func playable(in io.Reader) error {
	r := capture.NewReader(in)
	for {
		if _, err := r.Next(); err == io.EOF {
			return nil
		} else if err != nil {
			return asCall(err)
		}
	}
}

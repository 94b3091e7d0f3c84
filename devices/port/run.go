package port

import (
	"context"
	"strconv"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/devices"
)

// retry is the time between two looks for a port that went away.
const retry = 250 * time.Millisecond

// lostError says that the port itself went away.
type lostError struct{ cause error }

func (e *lostError) Error() string { return "the port went away: " + e.cause.Error() }
func (e *lostError) Unwrap() error { return e.cause }

// runner is the state of Run, in the goroutine that owns the port.
type runner struct {
	*Port
	deliver func(devices.Chunk) error
	buf     []byte
	steps   stepWatch
	pins    pinWatch
	sent    devices.Stamp // of the last chunk
	asked   int64         // when the instrument was last asked, by the monotonic time
	last    int64         // when bytes last came
	quiet   bool          // the pause since then was delivered
}

// read delivers what arrives until ctx ends (nil), deliver fails (its error) or the
// port goes away (*lostError).
func (r *runner) read(ctx context.Context) error {
	if r.o.Pins {
		stop, err := r.watchPins()
		defer stop()
		if err != nil {
			return err
		}
	}
	r.last = r.o.Now().Mono
	r.asked, r.quiet = r.last, true
	for ctx.Err() == nil {
		r.request()
		if err := r.readOnce(); err != nil {
			return err
		}
	}
	return nil
}

// readOnce waits for bytes once, and delivers all that arrived.
func (r *runner) readOnce() error {
	n, readErr := r.dev.Read(r.buf)
	at := r.o.Now()
	if err := r.deliverEdges(at.Mono); err != nil {
		return err
	}
	if jump := r.steps.look(at); jump != 0 {
		if err := r.fault(at, devices.FaultClockStep, stepText(jump)); err != nil {
			return err
		}
	}
	if n > 0 {
		r.last, r.quiet = at.Mono, false
		if err := r.send(devices.Chunk{At: at, Bytes: r.buf[:n]}); err != nil {
			return err
		}
	}
	if readErr != nil {
		return &lostError{readErr}
	}
	if n == 0 && !r.quiet && (!r.o.Pins || at.Mono-r.last >= int64(readTimeout)) {
		r.quiet = true
		if err := r.send(devices.Chunk{At: at}); err != nil {
			return err
		}
	}
	return r.lookAtPins()
}

// request sends the instrument its request if it is due. A request that can't be
// written needs no error of its own: the instrument then doesn't answer.
func (r *runner) request() {
	due := false
	select {
	case <-r.ask:
		due = true
	default:
	}
	now := r.asked
	if every := r.o.Settings.RequestEvery; every > 0 {
		now = r.o.Now().Mono
		due = due || now-r.asked >= int64(every)
	}
	if !due || len(r.o.Settings.Request) == 0 {
		return
	}
	r.asked = now
	_, err := r.dev.Write(r.o.Settings.Request)
	r.o.Log.Debug().Err(err).Str("request", strconv.Quote(string(r.o.Settings.Request))).Msg("asked")
}

// await tries to open the port again until it is there; false if ctx ends first.
func (r *runner) await(ctx context.Context) bool {
	tick := time.NewTicker(retry)
	defer tick.Stop()
	for {
		dev, err := r.reopen()
		if err == nil {
			r.dev = dev
			return true
		}
		r.o.Log.Debug().Err(err).Msg("not back yet")
		select {
		case <-ctx.Done():
			return false
		case <-tick.C:
		}
	}
}

// fromTheStart tells, with an empty chunk, that the first byte after a replug begins a
// frame. A port without control lines is no line of its own but a pseudo-terminal, which
// keeps what comes from the time when it is made, while nobody has opened it yet. Any other
// port hears nothing until it is opened, and may then come into the middle of a frame.
func (r *runner) fromTheStart(back devices.Stamp) error {
	if _, err := r.dev.Pins(); !hasNoPins(err) {
		return nil
	}
	return r.send(devices.Chunk{At: back})
}

func (r *runner) fault(at devices.Stamp, kind devices.FaultKind, text string) error {
	return r.send(devices.Chunk{At: at, Fault: kind, Text: text})
}

// send logs and delivers a chunk.
func (r *runner) send(c devices.Chunk) error {
	if e := r.o.Log.Debug(); e.Enabled() {
		logChunk(e, c)
	}
	r.sent = c.At
	return r.deliver(c)
}

func logChunk(e *zerolog.Event, c devices.Chunk) {
	e = e.Int64("utc_ns", c.At.UTC).Int64("mono_ns", c.At.Mono)
	switch {
	case c.Fault != "":
		e.Str("fault", string(c.Fault)).Msg(c.Text)
	case c.Changed != 0:
		e.Uint8("changed", uint8(c.Changed)).Uint8("pins", uint8(c.Pins)).Msg("control lines")
	case len(c.Bytes) == 0:
		e.Msg("quiet")
	default:
		e.Str("bytes", strconv.Quote(string(c.Bytes))).Msg("received")
	}
}

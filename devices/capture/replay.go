package capture

import (
	"context"
	"errors"
	"io"
	"time"

	"evenbeat/devices"
)

const (
	// look is the time between two looks for a reader at the pseudo-terminal.
	look = 20 * time.Millisecond
	// settle is the time that a reader gets after opening the port, to set it and
	// discard what was there. It also gets that time between the last byte and the
	// pulled plug, which would take unread bytes with it.
	settle = 200 * time.Millisecond
	// linger is how long the instrument stays after its last byte for a reader that
	// doesn't close the port.
	linger = 3 * time.Second
)

// Replay plays a capture as an instrument on a pseudo-terminal.
type Replay struct {
	// Speed is how many times as fast as it was recorded; 0 = as fast as it is read.
	Speed float64
	// Announce gets the name of the port whenever the instrument is plugged in: at the
	// start, and wherever the capture says so.
	Announce func(name string) error
}

// Run plays the capture in r from when someone opens the port until the capture or ctx
// ends. A pulled plug in the capture takes the port away until it says that it was
// plugged in again. While nobody has the port open, the instrument waits. The error is
// the reader's, Announce's or the system's: pseudo.ErrNone if it has no
// pseudo-terminals.
func (p Replay) Run(ctx context.Context, r io.Reader) error {
	s := &stage{Replay: p}
	err := s.plugIn(ctx)
	if err == nil {
		err = s.play(ctx, NewReader(r))
	}
	if err == nil {
		err = s.leave(ctx)
	}
	if s.t != nil {
		err = errors.Join(err, s.t.close())
	}
	if ctx.Err() != nil {
		return nil
	}
	return err
}

// stage is a replay that is being played.
type stage struct {
	Replay
	t     *terminal // nil while unplugged
	start time.Time // when the capture's start would have been, at its speed
	at    int64     // how far the capture has been played, in nanoseconds
}

func (s *stage) plugIn(ctx context.Context) error {
	t, err := openTerminal()
	if err != nil {
		return err
	}
	s.t = t
	if err := s.Announce(t.name); err != nil {
		return err
	}
	return s.await(ctx)
}

func (s *stage) unplug(ctx context.Context) error {
	if s.t == nil {
		return nil
	}
	if err := sleep(ctx, settle); err != nil {
		return err
	}
	err := s.t.close()
	s.t = nil
	return err
}

// await waits for a reader, and goes on with the time from there.
func (s *stage) await(ctx context.Context) error {
	for {
		there, err := s.t.hasReader()
		if err != nil {
			return err
		}
		if there {
			break
		}
		if err := sleep(ctx, look); err != nil {
			return err
		}
	}
	if err := sleep(ctx, settle); err != nil {
		return err
	}
	s.start = time.Now().Add(-s.played(s.at))
	return nil
}

// played returns how long the capture takes up to an offset.
func (s *stage) played(offset int64) time.Duration {
	if s.Speed <= 0 {
		return 0
	}
	return time.Duration(float64(offset) / s.Speed)
}

func (s *stage) play(ctx context.Context, r *Reader) error {
	for {
		c, err := r.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := sleep(ctx, time.Until(s.start.Add(s.played(c.At.Mono)))); err != nil {
			return err
		}
		s.at = c.At.Mono
		if err := s.act(ctx, c); err != nil {
			return err
		}
	}
}

func (s *stage) act(ctx context.Context, c devices.Chunk) error {
	switch {
	case c.Fault == devices.FaultUnplugged:
		return s.unplug(ctx)
	case c.Fault == devices.FaultReplugged && s.t == nil:
		return s.plugIn(ctx)
	case len(c.Bytes) == 0 || s.t == nil:
		return nil
	}
	there, err := s.t.hasReader()
	if err == nil && !there {
		err = s.await(ctx)
	}
	if err != nil {
		return err
	}
	return s.t.write(ctx, c.Bytes)
}

// leave waits until the reader has closed the port, or has had time to read.
func (s *stage) leave(ctx context.Context) error {
	end := time.Now().Add(linger)
	for s.t != nil && time.Now().Before(end) {
		there, err := s.t.hasReader()
		if err != nil || !there {
			return err
		}
		if err := sleep(ctx, look); err != nil {
			return err
		}
	}
	return nil
}

// sleep waits; it fails when ctx ends.
func sleep(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return ctx.Err()
	}
	wait := time.NewTimer(d)
	defer wait.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-wait.C:
		return nil
	}
}

package live

import (
	"context"
	"slices"
	"sync/atomic"

	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
)

const (
	// firstDoubt is after how many chunks a recognised format is judged again, and
	// whenever there are twice as many.
	firstDoubt = 16
	// mostHeld bounds the chunks that are held while no beat emerges: hours of a
	// clock's, some 2 MB. Then the format stands.
	mostHeld = 1 << 14
)

// doubted is the source of an instrument that was recognised by its first lines. Until
// it is settled it holds all that came. When another format is found, Run pauses the
// source and returns port.ErrPause.
type doubted struct {
	Source
	format  string
	other   func(format string) (Instrument, error)
	settled atomic.Bool // a beat has emerged

	judge recognise.Recogniser
	held  []devices.Chunk
	next  int        // how many are held when it is judged again
	found Instrument // by the other format
}

// Run delivers what the source does.
func (d *doubted) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	return d.Source.Run(ctx, func(c devices.Chunk) error {
		if d.settled.Load() || len(d.held) >= mostHeld {
			d.held = nil
			d.settled.Store(true)
			return deliver(c)
		}
		c.Bytes = slices.Clone(c.Bytes)
		d.held = append(d.held, c)
		d.judge.Add(c)
		if err := deliver(c); err != nil || c.Fault != "" || len(d.held) < d.next {
			return err
		}
		d.next = 2 * len(d.held)
		f := d.judge.Finding()
		if f.State != recognise.Found || f.Candidates[0].Format == d.format {
			return nil
		}
		var err error
		if d.found, err = d.other(f.Candidates[0].Format); err != nil {
			return nil // another kind of instrument: the format stands
		}
		return port.ErrPause
	})
}

// replayed delivers what was held before it goes on with the source.
type replayed struct {
	held []devices.Chunk
	Source
}

func (r *replayed) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	for _, c := range r.held {
		if err := deliver(c); err != nil {
			return err
		}
	}
	r.held = nil
	return r.Source.Run(ctx, deliver)
}

package capture

import (
	"context"
	"errors"
	"io"

	"evenbeat/devices"
)

// Playback delivers a capture as a port would have, but without waiting.
type Playback struct{ r *Reader }

// NewPlayback returns a playback of the capture in r.
func NewPlayback(r io.Reader) *Playback { return &Playback{NewReader(r)} }

// Run delivers the chunks of the capture with the stamps that they had. It returns
// nil at the end or when ctx ended, deliver's error if that failed, and the
// reader's if the capture can't be read on.
func (p *Playback) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	for ctx.Err() == nil {
		c, err := p.r.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := deliver(c); err != nil {
			return err
		}
	}
	return nil
}

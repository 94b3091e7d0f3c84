package port

import (
	"time"

	"evenbeat/devices"
)

// stepLimit is how far wall and monotonic time may part between two looks before it
// counts as a step, in nanoseconds. Clocks are slewed by 500 ppm at most (Linux, from
// memory), which is 25 µs in the 50 ms between two looks. The stamps themselves show
// anything smaller than this limit.
const stepLimit = 10e6

// stepWatch detects steps of the host's clock. The zero value is ready.
type stepWatch struct {
	offset int64
	seen   bool
}

// look returns by how much the host's clock was stepped since the last look, or 0.
func (w *stepWatch) look(at devices.Stamp) time.Duration {
	offset := at.UTC - at.Mono
	jump := offset - w.offset
	first := !w.seen
	w.offset, w.seen = offset, true
	if first || jump > -stepLimit && jump < stepLimit {
		return 0
	}
	return time.Duration(jump)
}

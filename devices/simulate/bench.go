package simulate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"sync"

	"evenbeat/devices"
)

// Bench plays instruments in virtual time. Bytes go through the real line, one event
// after the other. The bench's clock stands still at the event's arrival until the
// consumer says that it took every byte. So the stamps are those of the script, however
// the line cuts the bytes and however busy the machine is, and a week takes seconds.
type Bench struct {
	host *Host
	turn sync.Mutex // one script at a time: two would share one clock

	mu       sync.Mutex
	now      int64
	waiting  int64         // bytes written and not yet taken
	taken    chan struct{} // has room for one: sent when waiting falls to 0
	playing  bool
	overdone bool // more was taken than written
}

// ErrOverConsumed says that the consumer reported more bytes than were played: somebody
// else writes to the line, or two consumers report to one bench.
var ErrOverConsumed = errors.New("simulated bench: more bytes were taken than sent: who else writes to this line?")

// piece is the most bytes that are sent before they must be taken. A pseudo-terminal
// holds some 4 kB: below that, a write never waits for the reader.
const piece = 1024

// NewBench returns a bench that the host listens to, at the start.
func NewBench(host *Host) *Bench {
	return &Bench{host: host, taken: make(chan struct{}, 1)}
}

// Now returns the bench's time by the host's clocks, for the port layer to stamp
// with.
func (b *Bench) Now() devices.Stamp {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.host.Stamp(b.now)
}

// AdvanceTo sets the bench's clock to at, in nanoseconds since the start. An earlier
// time than it shows changes nothing.
func (b *Bench) AdvanceTo(at int64) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.now = max(b.now, at)
}

// Consumed is called by the consumer for each chunk, once it has stamped it and
// taken its n bytes.
func (b *Bench) Consumed(n int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !b.playing {
		return // the rest of a script that was broken off
	}
	b.waiting -= int64(n)
	if b.waiting < 0 {
		b.overdone = true
	}
	if b.waiting <= 0 {
		select {
		case b.taken <- struct{}{}:
		default: // sent already
		}
	}
}

// Play sends the script (arrival in ns since the start, bytes) to w. It returns when the
// last byte was taken, ctx ends or w fails. What arrives while the host sleeps is lost.
// An arrival earlier than the bench's time comes at the bench's time.
//
// Play needs a consumer that reads the other end and calls Consumed. The consumer must
// have opened the line before, since opening a port discards what waits there. One
// script plays at a time, and a second waits. After an error make a new line: bytes on
// their way are forgotten.
func (b *Bench) Play(ctx context.Context, w io.Writer, script iter.Seq2[int64, []byte]) error {
	b.turn.Lock()
	defer b.turn.Unlock()
	b.begin(true)
	defer b.begin(false)
	for at, bytes := range script {
		if !b.host.Hears(at) {
			continue
		}
		b.AdvanceTo(at)
		for len(bytes) > 0 {
			n := min(len(bytes), piece)
			if err := b.send(ctx, w, bytes[:n]); err != nil {
				return err
			}
			bytes = bytes[n:]
		}
	}
	return ctx.Err()
}

// begin starts or ends a script with nothing on its way.
func (b *Bench) begin(playing bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.playing, b.waiting, b.overdone = playing, 0, false
}

// send writes one piece and waits until it was taken.
func (b *Bench) send(ctx context.Context, w io.Writer, bytes []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	// Count first: the consumer may have it before Write returns.
	b.mu.Lock()
	b.waiting += int64(len(bytes))
	b.mu.Unlock()
	if _, err := w.Write(bytes); err != nil {
		return fmt.Errorf("simulated instrument: %w", err)
	}
	for {
		b.mu.Lock()
		waiting, overdone := b.waiting, b.overdone
		b.mu.Unlock()
		switch {
		case overdone:
			return ErrOverConsumed
		case waiting == 0:
			return nil
		}
		select {
		case <-b.taken:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

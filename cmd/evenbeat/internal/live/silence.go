package live

import (
	"context"
	"fmt"
	"sync"
	"time"

	"evenbeat/devices"
)

// SilentAfter is how long a sensor must be silent for that to be told, and kept as a
// fault. No clock beats so slowly.
const SilentAfter = 10 * time.Second

// wasSilent is the kind of fault for a time in which nothing was heard of the sensor.
const wasSilent devices.FaultKind = "silent"

// hearing knows when the sensor was heard last.
type hearing struct {
	mu   sync.Mutex
	last devices.Stamp
	away bool // its port is away, which is a fault of its own
}

// quiet returns for how long nothing was heard.
func (h *hearing) quiet(now devices.Stamp) time.Duration {
	h.mu.Lock()
	defer h.mu.Unlock()
	return time.Duration(now.Mono - h.last.Mono)
}

// heard takes what the sensor said. It returns the fault that tells of a silence, if that
// ended one; air doesn't.
func (h *hearing) heard(said []devices.Said) (silence []devices.Said) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, s := range said {
		if s.Kind == devices.KindBeat || s.Kind == devices.KindFault {
			silence = append(silence, h.until(s.At)...)
			h.away = s.Fault == devices.FaultUnplugged
		}
	}
	return silence
}

// end returns the silence that lasts until the session's end, if there is one.
func (h *hearing) end(now devices.Stamp) []devices.Said {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.until(now)
}

func (h *hearing) until(now devices.Stamp) []devices.Said {
	began, away := h.last, h.away
	if now.Mono < began.Mono { // what was held since before the session began
		return nil
	}
	h.last = now
	d := time.Duration(now.Mono - began.Mono)
	if away || d < SilentAfter {
		return nil
	}
	return []devices.Said{{Kind: devices.KindFault, At: began, Fault: wasSilent, Text: fmt.Sprintf("nothing was heard for %s", d.Round(time.Second))}}
}

// tick tells each second what time it is and for how long nothing was heard.
func (t *Timing) tick(ctx context.Context, h *hearing) {
	each := time.NewTicker(time.Second)
	defer each.Stop()
	for {
		select {
		case <-each.C:
			now := t.now()
			t.tell(Ticked, Event{At: utc(now), Quiet: h.quiet(now)})
		case <-ctx.Done():
			return
		}
	}
}

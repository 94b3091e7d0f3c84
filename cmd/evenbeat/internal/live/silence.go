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

// silentBeats is after how many beats without a word a silence is told, so that it is told
// within ten. One or two are missed often.
const silentBeats = 8

// hearing knows when the sensor was heard last.
type hearing struct {
	alarm *time.Timer // ends once the sensor has been silent for long enough to be told

	speaks func(devices.Said) bool // whether the sensor itself is heard
	long   time.Duration           // of silence, that is kept as a fault

	mu    sync.Mutex
	last  devices.Stamp
	away  bool          // its port is away, which is a fault of its own
	after time.Duration // of silence, until that is told
}

// hears begins to hear a clock whose beats come so many seconds apart; 0 if that isn't known.
func hears(now devices.Stamp, interval float64) *hearing {
	h := &hearing{speaks: speaks, long: SilentAfter, last: now, after: SilentAfter}
	h.expect(interval)
	h.alarm = time.NewTimer(h.after)
	return h
}

// hearsAir begins to hear a sensor of the air, whose silence of so long is told.
func hearsAir(now devices.Stamp, long time.Duration) *hearing {
	return &hearing{speaks: func(devices.Said) bool { return true }, long: long, last: now, after: long, alarm: time.NewTimer(long)}
}

// expect says how many seconds apart the beats come; 0 if that isn't known.
func (h *hearing) expect(interval float64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if interval > 0 {
		h.after = min(SilentAfter, time.Duration(silentBeats*interval*float64(time.Second)))
	}
}

// tick is what to tell of the hearing now.
func (h *hearing) tick(now devices.Stamp) Event {
	h.mu.Lock()
	defer h.mu.Unlock()
	quiet := time.Duration(now.Mono - h.last.Mono)
	return Event{At: utc(now), Quiet: quiet, Silent: quiet >= h.after}
}

// speaks reports whether the sensor itself is heard; air is another's.
func speaks(s devices.Said) bool { return s.Kind == devices.KindBeat || s.Kind == devices.KindFault }

// heard takes what the sensor said. It returns the fault that tells of a silence, if that
// ended one; air doesn't.
func (h *hearing) heard(said []devices.Said) (silence []devices.Said) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, s := range said {
		if h.speaks(s) {
			silence = append(silence, h.until(s.At)...)
			h.away = s.Fault == devices.FaultUnplugged
			h.alarm.Reset(h.after)
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
	if away || d < h.long {
		return nil
	}
	return []devices.Said{{Kind: devices.KindFault, At: began, Fault: wasSilent, Text: fmt.Sprintf("nothing was heard for %s", d.Round(time.Second))}}
}

// tick tells each second, and as soon as the sensor is silent, what time it is and for how
// long nothing was heard.
func (s *session) tick(ctx context.Context, h *hearing) {
	each := time.NewTicker(time.Second)
	defer each.Stop()
	defer h.alarm.Stop()
	for {
		select {
		case <-each.C:
		case <-h.alarm.C:
		case <-ctx.Done():
			return
		}
		s.tell(Ticked, h.tick(s.now()))
	}
}

package port

import (
	"testing"
	"time"

	"evenbeat/devices"
)

// goClock is a host's clock by Go's time, which a bubble of synctest can set.
func goClock() func() devices.Stamp {
	start := time.Now()
	return func() devices.Stamp {
		now := time.Now()
		return devices.Stamp{UTC: now.UnixNano(), Mono: int64(now.Sub(start))}
	}
}

// A beat's stamp must be finer than its interval's scatter, some 0.1 ms, on any system:
// the clock has moved on from one look to the next, not once in many looks.
func TestHostClockMovesFinely(t *testing.T) {
	t.Parallel()
	const looks = 100_000
	now := HostClock()
	begun := now()
	moved, last := 0, begun
	for range looks {
		at := now()
		if at.Mono < last.Mono {
			t.Fatalf("it went back by %d ns", last.Mono-at.Mono)
		}
		if at.Mono > last.Mono {
			moved++
		}
		last = at
	}
	if moved < looks/10 {
		t.Errorf("it moved %d times in %d looks, over %v", moved, looks, time.Duration(last.Mono-begun.Mono))
	}
	if off := time.Since(time.Unix(0, last.UTC)).Abs(); off > time.Minute {
		t.Errorf("its UTC is %v off", off)
	}
}

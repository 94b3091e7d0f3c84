//go:build !windows

package port

import (
	"time"

	"evenbeat/devices"
)

// HostClock returns a function that reads the host's clocks. Its monotonic time counts
// from this call: ports whose stamps are to be compared must share one.
func HostClock() func() devices.Stamp {
	start := time.Now()
	return func() devices.Stamp {
		now := time.Now()
		return devices.Stamp{UTC: now.UnixNano(), Mono: int64(now.Sub(start))}
	}
}

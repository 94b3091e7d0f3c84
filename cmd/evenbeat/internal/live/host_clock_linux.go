package live

import (
	"golang.org/x/sys/unix"

	"evenbeat/sessions"
)

// Of the kernel's clock discipline, adjtimex(2): the state that says the clock is
// not synchronised, and the status bit that says so.
const (
	timeError = 5      // TIME_ERROR
	staUnsync = 0x0040 // STA_UNSYNC
)

// HostClock asks the kernel whether its clock is held by a time service, and for its
// own bound on the clock's error.
func HostClock() sessions.Timing {
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	if err != nil {
		return sessions.Timing{}
	}
	if t.Esterror == 0 {
		// A service that tells no estimate sets the bound to zero too whenever it looks, and
		// the kernel lets that grow: it tells how long ago that was.
		t.Maxerror = 0
	}
	synced := state != timeError && t.Status&staUnsync == 0
	return sessions.Timing{HostKnown: true, HostSynced: synced, HostMaxErrorS: float64(t.Maxerror) * 1e-6}
}

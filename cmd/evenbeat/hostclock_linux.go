package main

import "golang.org/x/sys/unix"

// Of the kernel's clock discipline, adjtimex(2): the state that says the clock is
// not synchronised, and the status bit that says so.
const (
	timeError = 5      // TIME_ERROR
	staUnsync = 0x0040 // STA_UNSYNC
)

// hostDiscipline asks the kernel whether its clock is held by a time service, and
// for its own bound on the clock's error, in seconds.
func hostDiscipline() (known, synchronised bool, maxErrorS float64) {
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	if err != nil {
		return false, false, 0
	}
	synchronised = state != timeError && t.Status&staUnsync == 0
	return true, synchronised, float64(t.Maxerror) * 1e-6
}

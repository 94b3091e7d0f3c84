package live

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"

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

// ReadHost returns what this computer tells of its clock now, false where it tells too
// little. Of the ids by which it knows itself and its start only a digest is kept:
// machine-id(5) asks for that.
func ReadHost() (r sessions.HostReading, ok bool) {
	var mono, raw unix.Timespec
	machine, err := os.ReadFile("/etc/machine-id")
	boot, errBoot := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if len(bytes.TrimSpace(machine)) < 32 { // empty, or not given yet: computers of one image would pass for one
		return r, false
	}
	if errors.Join(err, errBoot, unix.ClockGettime(unix.CLOCK_MONOTONIC, &mono), unix.ClockGettime(unix.CLOCK_MONOTONIC_RAW, &raw)) != nil {
		return r, false
	}
	return sessions.HostReading{Host: digest(machine), Boot: digest(boot), Synced: HostClock().HostSynced, MonoNs: mono.Nano(), RawNs: raw.Nano()}, true
}

func digest(id []byte) string {
	sum := sha256.Sum256(append([]byte("evenbeat "), bytes.TrimSpace(id)...))
	return hex.EncodeToString(sum[:8])
}

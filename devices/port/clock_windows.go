package port

import (
	"unsafe"

	"golang.org/x/sys/windows"

	"evenbeat/devices"
)

var (
	kernel  = windows.NewLazySystemDLL("kernel32.dll")
	counter = kernel.NewProc("QueryPerformanceCounter")
	perS    = kernel.NewProc("QueryPerformanceFrequency")
)

// HostClock returns a function that reads the host's clocks. Its monotonic time counts
// from this call: ports whose stamps are to be compared must share one. Go's own time
// moves here as the system ticks, by up to 16 ms at once; these clocks move by 0.1 µs.
func HostClock() func() devices.Stamp {
	start, hz := number(counter), number(perS)
	return func() devices.Stamp {
		n := number(counter) - start
		var utc windows.Filetime
		windows.GetSystemTimePreciseAsFileTime(&utc)
		return devices.Stamp{UTC: utc.Nanoseconds(), Mono: n/hz*1e9 + n%hz*1e9/hz}
	}
}

// number returns what a call writes that can't fail since Windows XP.
func number(call *windows.LazyProc) (n int64) {
	_, _, _ = call.Call(uintptr(unsafe.Pointer(&n)))
	return n
}

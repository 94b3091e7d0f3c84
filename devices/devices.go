// Package devices holds the plain types of every instrument: stamped chunks of bytes on
// one side, and on the other what an instrument said. The packages beneath turn one into
// the other. Only port opens a port and stamps what arrives there.
package devices

import "evenbeat/devices/quantity"

// Stamp is when bytes arrived, by the host's clocks. It travels with the data: nothing
// downstream reads a clock.
type Stamp struct {
	UTC  int64 // nanoseconds since 1970-01-01 UTC by the host's clock, which may be stepped
	Mono int64 // nanoseconds of the host's monotonic time since an arbitrary start
}

// Pins are the control lines of a port that an instrument can drive, one bit each.
type Pins uint8

// The control lines.
const (
	PinCTS Pins = 1 << iota
	PinDSR
	PinDCD
	PinRI
)

// Chunk is what a port delivers at one time: bytes in order, a fault of the line itself
// (unplugged, back again) between the bytes around it, or a change of control lines.
// With none of the three it says that nothing arrived up to At. Formats whose frames are
// parted by pauses need that.
type Chunk struct {
	At Stamp
	// Bytes belong to the port, which overwrites them once the chunk has been dealt with.
	// Copy them to keep them.
	Bytes []byte
	// Fault is empty for bytes. Otherwise Bytes is empty, bytes may have been lost here,
	// and a decoder must drop a half-read frame.
	Fault FaultKind
	Text  string // what happened, for a fault
	// Changed holds the control lines that changed, zero for all other chunks;
	// Pins the state of all four after the change.
	Changed, Pins Pins
}

// Kind is which of the five things an instrument said.
type Kind uint8

// The kinds.
const (
	KindReading Kind = iota + 1
	KindBeat
	KindAir
	KindFault
	KindTime
)

// FaultKind names what went wrong on the line. Faults are data and are kept.
type FaultKind string

// The faults.
const (
	FaultGarbage   FaultKind = "garbage"    // bytes that make no frame
	FaultNoUnit    FaultKind = "no unit"    // a number whose unit nobody names
	FaultRange     FaultKind = "range"      // a number no instrument of the kind sends
	FaultTooLong   FaultKind = "too long"   // a line longer than any the format has
	FaultLost      FaultKind = "lost"       // bytes or lines are known to be missing
	FaultUnplugged FaultKind = "unplugged"  // the port went away
	FaultReplugged FaultKind = "replugged"  // the port is back
	FaultReset     FaultKind = "reset"      // the instrument's counter started anew
	FaultClockStep FaultKind = "clock step" // the host's clock was stepped or the host slept
)

// FaultKinds lists every kind of fault.
func FaultKinds() []FaultKind {
	return []FaultKind{FaultGarbage, FaultNoUnit, FaultRange, FaultTooLong, FaultLost,
		FaultUnplugged, FaultReplugged, FaultReset, FaultClockStep}
}

// Dimension is what a reading is of.
type Dimension uint8

// The dimensions of a reading, with the SI unit of its value.
const (
	DimLength Dimension = iota // metre
	DimForce                   // newton
	DimTorque                  // newton metre
)

// Reading is one value that an instrument showed.
type Reading struct {
	Value float64 // in the dimension's SI unit
	Step  float64 // one of the last digit shown, same unit; 0 if not known
	Dim   Dimension
	Unit  quantity.Unit // as sent, for lengths
}

// Beat is one event that a beat sensor sent.
type Beat struct {
	Count    uint64 // the device's free-running count, as sent
	Seq      uint64 // sequence number, as sent
	Edge     int16  // edge or channel, as sent
	HasCount bool   // false: only the host's stamp gives the time
	HasSeq   bool
	HasEdge  bool
}

// Air is one sample of the air around the clock.
type Air struct {
	TemperatureC, PressureHPa, HumidityPct   float64
	HasTemperature, HasPressure, HasHumidity bool
}

// Time is the time that a reference sent.
type Time struct {
	// Nanos is nanoseconds since 1970-01-01 UTC, or since midnight UTC if OfDay.
	Nanos int64
	Has   bool // false: the sentence left its time empty, and Nanos is 0
	OfDay bool // the sentence had no date
	Valid bool // the reference vouches for its time
	// ByPulse says that the second began with a pulse on a control line, and that the
	// stamp is of the pulse's edge.
	ByPulse bool
}

// Said is one thing that an instrument said. It is comparable, so that tests can compare
// two recordings.
type Said struct {
	Kind    Kind
	At      Stamp  // of the frame's first byte, or of the pulse that a Time goes by
	Text    string // as received; empty for beats, whose bytes a capture keeps
	Reading Reading
	Beat    Beat
	Air     Air
	Time    Time
	// Fault is for KindFault. Text then begins with the bytes concerned, if any, in Go's
	// quotes, and says behind a colon what is wrong with them.
	Fault FaultKind
}

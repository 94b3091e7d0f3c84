package beat

import (
	"cmp"
	"fmt"
	"math"

	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/beat/phase"
	"evenbeat/analysis/timebase"
	"evenbeat/analysis/train"
	"evenbeat/devices/quantity"
)

// Arbor is one arbor of the train, as far as its beats need it.
type Arbor = periodic.Arbor

// Options say what is known before the first beat.
type Options struct {
	// NominalInterval is the interval in seconds at which the clock would keep
	// time, 0 if not known: it is then guessed from the beats.
	NominalInterval float64
	Arbors          []Arbor // of the train, empty if not known
	BeatsPerTooth   int     // of the escape wheel; 0 = train.UsualBeatsPerTooth
	// CountRate is counts a second of the device's counter, nominal; 0 says that
	// the beats carry no count and the host's stamps tell the time.
	CountRate float64
	CountBits int // width of the counter; 0 lets the counts tell
	// Stamped says that the beats carry the host's stamps, which the device's count is
	// checked against.
	Stamped bool
	Host    timebase.Host

	// Flag is the width of what the pendulum carries through a light gate at its
	// rest, and FlagDistance how far that is from the pivot, in metres; zero where
	// not known.
	Flag, FlagDistance quantity.Value

	// Event, if not nil, is called for every event that could be a beat, and Beat for
	// every one that is, once that is sure. off says that it came too late or too early to
	// be summed; such ones are beats where the Result counts any. Numbers go on over segments
	// by the clock's own interval, so that a stop is a gap in them. Ticks are counts of the
	// device, or nanoseconds of the host's clock where there is no count.
	Event func(ticks int64)
	Beat  func(number, ticks int64, off bool)
	// Series, if not nil, is called with the time errors of neighbouring beats, in order,
	// and with the clock that they are against.
	Series func(s phase.Series, even phase.EvenClock)
}

// Steered tells by how many parts in a million the host's clock ran faster than its
// crystal so far: see timebase.Host.
func (a *Analyser) Steered(ppm float64) { a.o.Host.SteeredPPM, a.o.Host.HasSteered = ppm, true }

// tickS returns the seconds of a tick: of a count, or of the host's nanosecond.
func (o Options) tickS() float64 {
	if o.CountRate > 0 {
		return 1 / o.CountRate
	}
	return 1e-9
}

// tellsTime reports whether the sensor sends the time of each beat by a clock of its own,
// in nanoseconds, and the host stamped what it sent.
func (o Options) tellsTime() bool {
	return o.Stamped && !o.Host.Imported && o.CountRate == 1e9 && o.CountBits == 64
}

func (o Options) beatsPerTooth() int { return cmp.Or(o.BeatsPerTooth, train.UsualBeatsPerTooth) }

func (o Options) check() error {
	switch v := o.NominalInterval; {
	case v != 0 && !(v >= 0.01 && v <= 100):
		return quantity.BadInput("nominal interval", v, "must be between 0.01 s and 100 s, or 0 to be found")
	case o.CountRate != 0 && !(o.CountRate >= 10 && o.CountRate <= 1e12):
		return quantity.BadInput("count rate", o.CountRate, "must be between 10 and 1e12 counts a second")
	case o.CountBits != 0 && (o.CountBits < 8 || o.CountBits > 64):
		return quantity.BadInput("count bits", o.CountBits, "must be between 8 and 64, or 0 to be found")
	case !o.Stamped && o.CountRate == 0:
		return quantity.BadInput("count rate", 0, "must be given for beats without the host's stamps, such as 1000000")
	}
	for _, a := range o.Arbors {
		if !(a.BeatsPerTurn > 1) || math.IsInf(a.BeatsPerTurn, 0) {
			return quantity.BadInput(fmt.Sprint("beats of a turn of arbor ", a.Index), a.BeatsPerTurn, "must be above 1")
		}
	}
	switch w, d := o.Flag, o.FlagDistance; {
	case w.V == 0 && d.V == 0:
		return nil
	case !(w.V > 0 && w.U >= 0 && w.Finite()):
		return quantity.BadInput("width of the flag", fmt.Sprint(w.V, " m"), "must be a positive length; give it and the flag's distance from the pivot, or neither")
	case !(d.V > w.V && d.V <= 100 && d.U >= 0 && d.Finite()):
		return quantity.BadInput("distance of the flag", fmt.Sprint(d.V, " m"), fmt.Sprintf("must be more than the flag's width, %g m, and no more than 100 m from the pivot", w.V))
	}
	return nil
}

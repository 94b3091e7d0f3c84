package recorder

import (
	"context"
	"errors"
	"math"
	"time"

	"evenbeat/devices"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// AirEvery is the span of time whose samples of the air become one row, where the session
// names no other. The air of a room changes little in a minute, and a sensor that sends
// each second would otherwise fill the book.
const AirEvery = time.Minute

// airs makes one row of the samples of the air in a span of time: their mean, at the mean
// of their times. What the rate depends on is the air's integral from check to check, and
// that is the same for means as for the samples themselves.
type airs struct {
	every time.Duration
	span  int64       // the one that is summed up, counted from 1970
	first int64       // the host's UTC of its first sample, ns
	after float64     // sum of how much later the samples came, ns
	n     int         // of samples
	what  [3]sum      // temperature, pressure, humidity
	ready []Event     // to be written
	timer *time.Timer // runs while a span is summed up, in case no sample ends it
}

// sum is of those samples that have what it is of.
type sum struct {
	v float64
	n int
}

func newAirs(every time.Duration) *airs {
	if every <= 0 {
		every = AirEvery
	}
	a := &airs{every: every, timer: time.NewTimer(every)}
	a.timer.Stop()
	return a
}

// add takes a sample. One of another span ends the span before.
func (a *airs) add(s devices.Said) {
	span := s.At.UTC / int64(a.every)
	if span != a.span {
		a.end()
	}
	if a.n == 0 {
		a.span, a.first = span, s.At.UTC
		a.timer.Reset(a.every)
	}
	a.n++
	a.after += float64(s.At.UTC - a.first)
	for i, x := range []struct {
		v   float64
		has bool
	}{{s.Air.TemperatureC, s.Air.HasTemperature}, {s.Air.PressureHPa, s.Air.HasPressure}, {s.Air.HumidityPct, s.Air.HasHumidity}} {
		if x.has {
			a.what[i].v += x.v
			a.what[i].n++
		}
	}
}

// ripen has a span written that no sample came to end. While recording waits, samples of the
// same span may wait too.
func (a *airs) ripen(paused bool) {
	if paused {
		a.timer.Reset(a.every)
		return
	}
	a.end()
}

// end has the span that is summed up written.
func (a *airs) end() {
	if a.n == 0 {
		return
	}
	row := sessions.Air{At: time.Unix(0, a.first+int64(a.after/float64(a.n))).UTC()}
	row.TemperatureC, row.HasTemperature = a.mean(0)
	row.PressureHPa, row.HasPressure = a.mean(1)
	row.HumidityPct, row.HasHumidity = a.mean(2)
	a.ready = append(a.ready, Event{Kind: Aired, Air: row, Times: a.n})
	*a = airs{every: a.every, ready: a.ready, timer: a.timer}
	a.timer.Stop()
}

// mean is what the samples of the span have in the mean, to four decimals: no sensor of a
// room's air tells finer.
func (a *airs) mean(of int) (v float64, has bool) {
	x := a.what[of]
	if x.n == 0 {
		return 0, false
	}
	return math.Round(x.v/float64(x.n)*1e4) / 1e4, true
}

// unkept is how many samples aren't in the book.
func (a *airs) unkept() int {
	n := a.n
	for _, e := range a.ready {
		n += e.Times
	}
	return n
}

// air takes a sample. One that no room has, or at a time that can't be, is a fault.
func (t *Timing) air(s devices.Said) {
	at := utc(s.At)
	err := sessions.Air{At: at, TemperatureC: s.Air.TemperatureC, HasTemperature: s.Air.HasTemperature, PressureHPa: s.Air.PressureHPa,
		HasPressure: s.Air.HasPressure, HumidityPct: s.Air.HumidityPct, HasHumidity: s.Air.HasHumidity}.Validate(at)
	if _, bad := errors.AsType[*quantity.InputError](err); bad {
		s.Text += ": " + err.Error()
		t.faults.add(fault(t.Session.ID, s, devices.FaultRange))
		return
	}
	t.airs.add(s)
}

func (t *Timing) flushAir(ctx context.Context) (err error) {
	a := t.airs
	for len(a.ready) > 0 {
		e := a.ready[0]
		e.Air.ClockID = t.Session.ClockID
		if e.Air.ID, err = t.Store.AddAir(ctx, e.Air); err != nil {
			return err
		}
		t.Log.Debug().Int64("session", t.Session.ID).Int64("air", e.Air.ID).Int("samples", e.Times).Msg("air in the book")
		a.ready = a.ready[1:]
		if err := t.tell(e); err != nil {
			return err
		}
	}
	return nil
}

// The faults of a sensor of the air beside a beat sensor are told apart from that one's.
const (
	ofAir = "air "
	// AirGone is the kind of fault for a sensor of the air that will say no more.
	AirGone devices.FaultKind = ofAir + "gone"
)

// OfAir marks the faults among what a sensor of the air said as that one's, in place, so
// that it can go into the beat sensor's queue.
func OfAir(said []devices.Said) []devices.Said { return faultsOf(ofAir, said) }

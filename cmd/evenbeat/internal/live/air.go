package live

import (
	"context"
	"errors"
	"sync"
	"time"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// AirSilentAfter is how long a sensor of the air must be silent for that to be told, and
// kept as a fault; three rows' time where that is longer. The air of a room changes so
// slowly that less is no loss.
const AirSilentAfter = 15 * time.Minute

// airSilence is how long a sensor must be silent whose rows come so far apart.
func airSilence(every time.Duration) time.Duration { return max(AirSilentAfter, 3*every) }

// Air is a session of recording the air about a clock. Always call Run, which closes the
// sensor's port. The other methods may be called at any time, by anyone.
type Air struct {
	session
	clock sessions.Clock
	every time.Duration
}

// NewAir makes a session of recording the air about a clock ready, with a row for the
// samples of each span of time. now stamps the sensor's samples.
func (b Bench) NewAir(clock sessions.Clock, in Input, every time.Duration, now func() devices.Stamp) *Air {
	a := &Air{session: session{bench: b, input: in, now: now, over: make(chan struct{})}, clock: clock, every: every}
	a.state = State{Clock: clock.Name, Air: AirSum{silence: airSilence(every)}}
	return a
}

// Finish ends the session, or the search for its sensor. What was heard by then is kept.
func (a *Air) Finish() { a.finish() }

// Run listens until ctx ends or Finish is called, and keeps in the book what it hears.
// When it returns, all it started has ended.
func (a *Air) Run(ctx context.Context, b BeatBook) (err error) {
	defer func() { a.end(ctx, nil, err) }()
	ctx, stop := a.stoppable(ctx)
	defer stop()
	began := a.now() // what is heard while its kind is found out is the session's too
	if ok, err := a.find(ctx); err != nil || !ok {
		return err
	}
	// What was heard is recorded although ctx has ended.
	keep := context.WithoutCancel(ctx)
	ses := a.begun(sessions.SessionAir, a.clock)
	ses.Started = utc(began)
	if ses.ID, err = b.StartSession(keep, ses); err != nil {
		return err
	}
	a.tell(Started, Event{Session: ses})

	ctx, end := context.WithCancel(ctx)
	defer end()
	queue := make(chan []devices.Said, queueLength)
	ear := hearsAir(a.now(), airSilence(a.every))
	a.listened = true
	var listening sync.WaitGroup
	var broken error
	listening.Go(func() { a.tick(ctx, ear) })
	listening.Go(func() {
		defer close(queue)
		broken = Listen(ctx, a.keepRaw(a.input.Source, ses, ""), a.input.Instrument.Decoder, func(said []devices.Said) error {
			if silence := ear.heard(said); len(silence) > 0 {
				queue <- silence
			}
			queue <- a.heard(said)
			return nil
		})
		queue <- ear.end(a.now())
	})
	rec := &recorder.Timing{Store: b, Session: ses, AirEvery: a.every, Log: a.bench.Log, Tell: func(e recorder.Event) error {
		if e.Kind == recorder.Waits {
			a.warn("%s", e.Fault.Text)
			return nil
		}
		a.publish(Event{Event: e})
		return nil
	}}
	err = rec.Run(keep, queue)
	end()
	for range queue { // after a failed write the port must not wait for ever
	}
	listening.Wait()
	return errors.Join(err, broken)
}

// AirSum is what a session recorded of the air so far.
type AirSum struct {
	Rows        int64     `json:"rows"`                    // in the book, each the mean of the samples of a span of time
	Samples     int64     `json:"samples"`                 // that they are the means of
	From        time.Time `json:"from,omitzero"`           // the first row
	To          time.Time `json:"to,omitzero"`             // the last row
	Temperature *AirRange `json:"temperature_c,omitempty"` // of the rows that have it
	Pressure    *AirRange `json:"pressure_hpa,omitempty"`  // of the rows that have it
	Humidity    *AirRange `json:"humidity_pct,omitempty"`  // of the rows that have it
	Gaps        int       `json:"gaps"`                    // times without a row that are longer than a silence that is told
	GapS        float64   `json:"gap_s"`                   // how long they are in all

	last    time.Time     // row, or the session's beginning
	silence time.Duration // that is told; 0 for a session of timing, which sums up no gaps
}

// AirRange is what the rows say of one thing that was measured.
type AirRange struct {
	Low  float64 `json:"low"`  // the least row, in the unit that the name says
	High float64 `json:"high"` // the greatest row
}

// Silence is how long a time between two rows must be to count as a gap.
func (s AirSum) Silence() time.Duration { return s.silence }

// with is the sum with one row more, the mean of n samples.
func (s AirSum) with(a sessions.Air, n int) AirSum {
	if s = s.upTo(a.At); s.Rows == 0 {
		s.From = a.At
	}
	s.Rows, s.Samples, s.To = s.Rows+1, s.Samples+int64(n), a.At
	s.Temperature = s.Temperature.with(a.TemperatureC, a.HasTemperature)
	s.Pressure = s.Pressure.with(a.PressureHPa, a.HasPressure)
	s.Humidity = s.Humidity.with(a.HumidityPct, a.HasHumidity)
	return s
}

// upTo is the sum up to a row, or the end, with the time in which none came if it is long.
func (s AirSum) upTo(t time.Time) AirSum {
	if d := t.Sub(s.last); s.silence > 0 && !s.last.IsZero() && d > s.silence {
		s.Gaps++
		s.GapS += d.Seconds()
	}
	s.last = t
	return s
}

func (r *AirRange) with(v float64, has bool) *AirRange {
	switch {
	case !has:
		return r
	case r == nil:
		return &AirRange{v, v}
	}
	return &AirRange{min(r.Low, v), max(r.High, v)}
}

// openAir opens the port of the sensor of the air, or those where it is looked for.
func (t *Timing) openAir(ctx context.Context) (Input, error) {
	return t.o.Air(ctx, []string{t.input.Port, t.reference.Port})
}

// listenAir listens to a sensor of the air beside the beats until ctx ends. Whatever
// becomes of it is told and kept, and the session goes on.
func (t *Timing) listenAir(ctx context.Context, ses sessions.Session, say func([]devices.Said) error) {
	in, err := t.air, error(nil)
	if t.o.AirLater {
		in, err = t.openAir(ctx)
	}
	if err == nil {
		in, err = t.found(ctx, in)
	}
	if err == nil && in.Source != nil {
		ses.Port, ses.Profile = in.Port, in.Instrument.Profile.Name
		err = t.hearAir(ctx, in, ses, say)
	}
	if err != nil && ctx.Err() == nil {
		gone := devices.Said{Kind: devices.KindFault, At: t.now(), Fault: recorder.AirGone, Text: err.Error()}
		_ = say([]devices.Said{gone}) // it never fails
	}
}

func (t *Timing) hearAir(ctx context.Context, in Input, ses sessions.Session, say func([]devices.Said) error) error {
	ear := hearsAir(t.now(), AirSilentAfter)
	ctx, stop := context.WithCancel(ctx)
	var watching sync.WaitGroup
	watching.Go(func() {
		defer ear.alarm.Stop()
		for {
			select {
			case <-ear.alarm.C:
				t.warn("the sensor of the air at %s has said nothing for %s", ses.Port, AirSilentAfter)
			case <-ctx.Done():
				return
			}
		}
	})
	defer watching.Wait()
	defer stop()
	err := Listen(ctx, t.keepRaw(in.Source, ses, "-air"), in.Instrument.Decoder, func(said []devices.Said) error {
		return say(recorder.OfAir(append(ear.heard(said), said...)))
	})
	if silence := ear.end(t.now()); len(silence) > 0 {
		return errors.Join(err, say(recorder.OfAir(silence)))
	}
	return err
}

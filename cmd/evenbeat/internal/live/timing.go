package live

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// TimingOptions are what a session of timing needs besides clock and sensor.
type TimingOptions struct {
	Now func() devices.Stamp // of the sensor's stamps, and the reference's
	// CountRate and CountBits are of the sensor's counter; those of its profile where
	// they are 0.
	CountRate float64
	CountBits int
	// Reference is a receiver of time that is listened to beside the sensor; nil for
	// none. Its port is opened when the session begins: what a receiver tells while
	// nobody reads would come stamped late.
	Reference *Input
	// Air opens a sensor of the air that is listened to beside the sensor; nil for none. It
	// is opened when the session begins. Where AirLater holds, Air may wait until the port
	// is there, and the beats don't wait for it. Other instruments have the ports that are
	// taken.
	Air      func(ctx context.Context, taken []string) (Input, error)
	AirLater bool
	Host     sessions.Timing // what is known of the host's clock
	// ReadHost returns what the host tells of its clock now, false if it doesn't; nil where
	// it is not to be asked.
	ReadHost func() (sessions.HostReading, bool)
	Rate     analysis.RateOptions
	// EstimateEvery is how far apart in time the beats are at which an estimate is
	// made; 0 for none before the end.
	EstimateEvery time.Duration
}

// BeatBook is where a session of timing is kept; a *book.Book is one.
type BeatBook interface {
	recorder.BeatStore
	StartSession(context.Context, sessions.Session) (int64, error)
	AddHostReading(ctx context.Context, sessionID int64, r sessions.HostReading) error
}

// Timing is a session of listening to a clock. Always call Run, which closes the
// sensor's port. The other methods may be called at any time, by anyone.
type Timing struct {
	session
	clock     sessions.Clock
	o         TimingOptions
	reference Input           // with a source where there is one
	air       Input           // with a source or a search where there is one
	rater     *analysis.Rater // the recorder's alone
	ear       *hearing
	beats     int64          // in the book
	estimated int64          // the host's time of the last estimate, ns since the first beat
	doubt     *doubted       // of the format that was recognised; nil for none
	look      int64          // how many beats are in the book when one is looked for next
	told      []devices.Said // by the reference, while in doubt
}

// NewTiming makes a session of timing a clock ready.
func (b Bench) NewTiming(clock sessions.Clock, in Input, o TimingOptions) *Timing {
	t := &Timing{session: session{bench: b, input: in, now: o.Now, over: make(chan struct{})}, clock: clock, o: o}
	t.state = State{Clock: clock.Name}
	return t
}

// Finish ends the session, or the search for its sensor. What was heard by then is
// kept.
func (t *Timing) Finish() { t.finish() }

// Run listens until ctx ends or Finish is called, keeps what it hears in the book and
// finds the rate: the estimate of the last state. When it returns, all it started has
// ended. The error is a *beat.TooFewError where too few beats came for a figure.
func (t *Timing) Run(ctx context.Context, b BeatBook) (err error) {
	var last *Estimate
	defer func() { t.end(ctx, last, err) }()
	ctx, stop := t.stoppable(ctx)
	defer stop()
	if t.input.Search != nil {
		ok, err := t.find(ctx)
		if err != nil {
			return err
		}
		if !ok {
			return &beat.TooFewError{}
		}
	}
	defer t.closeBeside(ctx)
	var ses sessions.Session
	for anew := true; anew; {
		if err := t.openBeside(ctx); err != nil {
			return err
		}
		// What was heard is recorded and summed up although ctx has ended.
		if ses, err = t.start(context.WithoutCancel(ctx), b); err != nil {
			return err
		}
		if anew, err = t.record(ctx, b, ses); err != nil {
			return err
		}
	}
	if err := t.readHost(context.WithoutCancel(ctx), b, ses); err != nil {
		t.warn("what this computer tells of its clock is not kept: %v", err) // the beats are
	}
	t.rater.Close()
	f, err := t.rater.Result()
	if err != nil {
		return fmt.Errorf("session %d of %s: %w", ses.ID, t.clock.Name, err)
	}
	last = &Estimate{Result: f}
	return nil
}

// start begins the session in the book.
func (t *Timing) start(ctx context.Context, b BeatBook) (sessions.Session, error) {
	ses := t.begun(sessions.SessionTime, t.clock)
	p := t.input.Instrument.Profile
	ses.Timing = t.o.Host
	ses.Timing.CountRate, ses.Timing.CountBits = cmp.Or(t.o.CountRate, p.CountRate), cmp.Or(t.o.CountBits, p.CountBits)
	var err error
	if ses.ID, err = b.StartSession(ctx, ses); err != nil {
		return ses, err
	}
	if t.rater, err = analysis.NewRater(t.clock, ses, t.o.Rate); err != nil {
		return ses, err
	}
	t.beats, t.estimated, t.look = 0, -int64(t.o.EstimateEvery), 1
	t.tell(Started, Event{Session: ses})
	return ses, t.readHost(ctx, b, ses)
}

// readHost keeps what the host tells of its clock as the session begins and ends.
func (t *Timing) readHost(ctx context.Context, b BeatBook, ses sessions.Session) error {
	r, ok := t.askHost()
	if !ok {
		return nil
	}
	return b.AddHostReading(ctx, ses.ID, r)
}

// askHost tells the estimate what the host tells of its clock now.
func (t *Timing) askHost() (r sessions.HostReading, ok bool) {
	if t.o.ReadHost != nil {
		if r, ok = t.o.ReadHost(); ok {
			t.rater.AddHostReading(r)
		}
	}
	return r, ok
}

// record keeps what sensor and reference say until ctx ends. It returns true when the
// format that was recognised proves to be another: all that came is to be read anew.
func (t *Timing) record(ctx context.Context, b BeatBook, ses sessions.Session) (anew bool, err error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	keep := context.WithoutCancel(ctx)
	queue := make(chan []devices.Said, queueLength)
	say := func(said []devices.Said) error {
		queue <- t.heard(said)
		return nil
	}
	src := t.doubts()
	if len(t.told) > 0 {
		queue <- t.told
	}
	t.ear = hears(t.now(), t.rater.Nominal())
	var listening sync.WaitGroup
	var broken error
	t.listened = true
	listening.Go(func() { t.tick(ctx, t.ear) })
	listening.Go(func() {
		beside := t.listenBeside(ctx, ses, say)
		broken = Listen(ctx, t.keepRaw(src, ses, ""), t.input.Instrument.Decoder, func(said []devices.Said) error {
			if silence := t.ear.heard(said); len(silence) > 0 {
				queue <- silence
			}
			return say(said)
		})
		beside()
		queue <- t.ear.end(t.now())
		if errors.Is(broken, port.ErrPause) {
			queue <- t.readAnew()
			anew, broken = true, nil
		}
		close(queue)
	})
	rec := &recorder.Timing{Store: b, Session: ses, Log: t.bench.Log, Tell: t.recorded}
	err = rec.Run(keep, queue)
	stop()
	for range queue { // after a failed write the port must not wait for ever
	}
	listening.Wait()
	return anew, errors.Join(err, broken)
}

// doubts returns the sensor's source. One that was recognised is judged again until
// its beat emerges.
func (t *Timing) doubts() Source {
	if t.input.Other == nil {
		return t.input.Source
	}
	d := &doubted{Source: t.input.Source, format: t.input.Instrument.Profile.Format, other: t.input.Other, next: firstDoubt}
	if t.doubt != nil {
		d.next = t.doubt.next // the same lines aren't judged twice
	}
	t.doubt = d
	return d
}

// readAnew has the input begin again with all that came, read by the format that was
// found since. It returns what to tell of that in the session that ends.
func (t *Timing) readAnew() []devices.Said {
	d := t.doubt
	t.input = Input{Instrument: d.found, Port: t.input.Port, Source: &replayed{d.held, d.Source}, Other: t.input.Other}
	t.listened = false
	text := fmt.Sprintf("the lines are %s, not %s: the next session holds all of them", d.found.Profile.Format, d.format)
	return []devices.Said{{Kind: devices.KindFault, At: d.held[len(d.held)-1].At, Fault: recorder.ReadAnew, Text: text}}
}

// settle ends the doubt in the format once a beat emerges. It looks whenever there are
// twice as many.
func (t *Timing) settle() {
	if t.doubt == nil || t.doubt.settled.Load() || t.beats < t.look {
		return
	}
	t.look = 2 * t.beats
	if _, err := t.rater.Result(); err == nil {
		t.doubt.settled.Store(true)
	}
}

// recorded takes what the recorder tells into the estimate.
func (t *Timing) recorded(e recorder.Event) error {
	last := int64(-1)
	switch e.Kind {
	case recorder.Beats:
		t.beats += int64(len(e.Beats))
		last = e.Beats[len(e.Beats)-1].HostMono
		t.rater.Add(e.Beats)
		t.settle()
	case recorder.References:
		t.rater.AddReferences(e.References)
	case recorder.Waits:
		t.warn("%s", e.Fault.Text)
		return nil
	}
	t.publish(Event{Event: e, Total: t.beats})
	if every := int64(t.o.EstimateEvery); every > 0 && last >= t.estimated+every {
		t.estimated = last
		t.askHost()
		f, err := t.rater.Result()
		if err == nil {
			t.ear.expect(f.IntervalS)
		}
		t.tell(Estimated, Event{Estimate: &Estimate{f, err}})
	}
	return nil
}

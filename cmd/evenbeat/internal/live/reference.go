package live

import (
	"context"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// openReference opens the port of the reference, if there is one, with the clock that
// stamps the sensor's.
func (t *Timing) openReference() (err error) {
	if r := t.o.Reference; r != nil {
		t.reference, err = t.bench.Open(r.Port, r.Instrument, t.now)
	}
	return err
}

// listenBeside begins to listen to the reference, and returns what ends that. Whatever
// becomes of the receiver is told and kept, and the session goes on: without it the
// time is this computer's.
func (t *Timing) listenBeside(ctx context.Context, ses sessions.Session, say func([]devices.Said) error) (end func()) {
	r := t.reference
	if r.Source == nil {
		return func() {}
	}
	ctx, stop := context.WithCancel(ctx)
	done := make(chan struct{})
	ses.Port, ses.Profile = r.Port, r.Instrument.Profile.Name
	go func() {
		defer close(done)
		err := Listen(ctx, t.keepRaw(r.Source, ses, "-reference"), r.Instrument.Decoder, func(said []devices.Said) error {
			said = recorder.OfReference(said)
			if d := t.doubt; d != nil && !d.settled.Load() {
				t.told = append(t.told, said...)
			}
			return say(said)
		})
		if err != nil && ctx.Err() == nil {
			gone := devices.Said{Kind: devices.KindFault, At: t.now(), Fault: recorder.ReferenceGone, Text: err.Error()}
			_ = say([]devices.Said{gone}) // it never fails
		}
	}()
	return func() {
		stop()
		<-done
	}
}

package live

import (
	"context"

	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// Reference is a receiver of time that is listened to beside the sensor. Its port is
// opened when the session begins: what a receiver tells while nobody reads would come
// stamped late.
type Reference struct {
	Port       string
	Instrument Instrument

	port *port.Port
}

// listenBeside begins to listen to the reference, and returns what ends that. Whatever
// becomes of the receiver is told and kept, and the session goes on: without it the
// time is this computer's.
func (t *Timing) listenBeside(ctx context.Context, ses sessions.Session, say func([]devices.Said) error) (end func()) {
	r := t.o.Reference
	if r == nil {
		return func() {}
	}
	ctx, stop := context.WithCancel(ctx)
	done := make(chan struct{})
	ses.Port, ses.Profile = r.Port, r.Instrument.Profile.Name
	go func() {
		defer close(done)
		err := Listen(ctx, t.keepRaw(r.port, ses, "-reference"), r.Instrument.Decoder, func(said []devices.Said) error {
			return say(recorder.OfReference(said))
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

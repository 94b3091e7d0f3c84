package live

import (
	"context"
	"sync"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// openBeside opens the ports of reference and sensor of the air, where there are such, with
// the clock that stamps the sensor's.
func (t *Timing) openBeside(ctx context.Context) (err error) {
	t.reference, t.air = Input{}, Input{}
	if r := t.o.Reference; r != nil {
		if t.reference, err = t.bench.Open(r.Port, r.Instrument, t.now); err != nil {
			return err
		}
	}
	if t.o.Air != nil && !t.o.AirLater {
		t.air, err = t.openAir(ctx)
	}
	return err
}

// closeBeside closes what openBeside opened for a session that never began.
func (t *Timing) closeBeside(ctx context.Context) {
	if t.listened {
		return
	}
	for _, in := range []Input{t.reference, t.air} {
		if err := in.Close(ctx); err != nil {
			t.bench.Log.Debug().Err(err).Str("port", in.Port).Msg("closing")
		}
	}
}

// listenBeside begins to listen to reference and sensor of the air, and returns what ends
// that.
func (t *Timing) listenBeside(ctx context.Context, ses sessions.Session, say func([]devices.Said) error) (end func()) {
	ctx, stop := context.WithCancel(ctx)
	var all sync.WaitGroup
	if t.reference.Source != nil {
		all.Go(func() { t.listenReference(ctx, ses, say) })
	}
	if t.o.Air != nil {
		all.Go(func() { t.listenAir(ctx, ses, say) })
	}
	return func() {
		stop()
		all.Wait()
	}
}

// listenReference listens to the reference until ctx ends. Whatever becomes of the receiver
// is told and kept, and the session goes on: without it the time is this computer's.
func (t *Timing) listenReference(ctx context.Context, ses sessions.Session, say func([]devices.Said) error) {
	r := t.reference
	ses.Port, ses.Profile = r.Port, r.Instrument.Profile.Name
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
}

package main

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// referenceFlag names a receiver of time.
type referenceFlag struct{ port, profile string }

func (o *referenceFlag) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.port, "reference", "", "the serial `PORT` of a receiver that tells the time")
	f.StringVar(&o.profile, "reference-profile", "nmea", "its `PROFILE`")
}

// timeReference is a receiver of time that is listened to beside the sensor.
type timeReference struct {
	*app
	name string
	ins  instrument
	port *port.Port
	now  func() devices.Stamp
}

// reference makes the receiver of a call ready, nil if it names none. The port is
// opened later: what a receiver tells while nobody reads would come stamped late.
func (a *app) reference(o referenceFlag, sensor string) (*timeReference, error) {
	if o.port == "" {
		return nil, nil
	}
	if o.port == "auto" {
		return nil, badCall("--reference auto: name the port of the receiver (see evenbeat ports)")
	}
	if o.port == sensor {
		return nil, badCall("--reference %s: is the sensor's port: name the receiver's", o.port)
	}
	ins, err := a.instrument(o.profile)
	if err != nil {
		return nil, err
	}
	if ins.profile.Kind != configs.KindReference {
		return nil, badCall("--reference-profile %s is a %s: name one that tells the time, as nmea does", o.profile, ins.profile.Kind)
	}
	return &timeReference{app: a, name: o.port, ins: ins}, nil
}

// open opens the port, with the clock that stamps the sensor's.
func (r *timeReference) open(now func() devices.Stamp) (err error) {
	if r == nil {
		return nil
	}
	r.now = now
	r.port, err = r.openPortBy(now, r.name, r.ins)
	return err
}

// listen begins to listen beside the sensor, and returns what ends that. Whatever
// becomes of the receiver is told and kept, and the session goes on: without it the
// time is this computer's.
func (r *timeReference) listen(ctx context.Context, ses sessions.Session, say func([]devices.Said) error) (end func()) {
	if r == nil {
		return func() {}
	}
	ctx, stop := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		err := listen(ctx, r.keepReference(ses), r.ins.decoder, func(said []devices.Said) error {
			return say(recorder.OfReference(said))
		})
		if err != nil && ctx.Err() == nil {
			// The queue refuses only once the session has ended.
			_ = say([]devices.Said{{Kind: devices.KindFault, At: r.now(), Fault: recorder.ReferenceGone, Text: err.Error()}})
		}
	}()
	return func() {
		stop()
		<-done
	}
}

// keepReference keeps the receiver's bytes beside the sensor's, if the settings say
// so.
func (r *timeReference) keepReference(ses sessions.Session) source {
	src := r.keepRaw(r.port, sessions.Session{ID: ses.ID, Port: r.name, Profile: r.ins.profile.Name})
	if raw, ok := src.(*rawSource); ok {
		raw.file = strings.TrimSuffix(raw.file, ".capture") + "-reference.capture"
	}
	return src
}

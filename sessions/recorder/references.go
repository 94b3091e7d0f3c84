package recorder

import (
	"context"
	"slices"

	"evenbeat/devices"
	"evenbeat/sessions"
)

// The faults of a time reference are told apart from the sensor's: they say nothing
// of its count, which runs on.
const (
	ofReference = "reference "
	// ReferenceGone is the kind of fault for a reference that will say no more.
	ReferenceGone devices.FaultKind = ofReference + "gone"
	// NoTime is the kind of fault for the first of a run of sentences that tell no
	// time to go by: the receiver disowns it, or has no date.
	NoTime devices.FaultKind = ofReference + "without time"
)

// OfReference marks the faults among what a time reference said as the reference's,
// in place, so that it can go into the sensor's queue.
func OfReference(said []devices.Said) []devices.Said { return faultsOf(ofReference, said) }

func faultsOf(whose devices.FaultKind, said []devices.Said) []devices.Said {
	for i := range said {
		if said[i].Kind == devices.KindFault {
			said[i].Fault = whose + said[i].Fault
		}
	}
	return said
}

// references are the times that wait to be written.
type references struct {
	held []sessions.Reference // HostMono still by the host's own start
	last devices.Time         // that was kept
	mute bool                 // the last sentence told no time to go by
}

// waitForBeat bounds the times that wait for the session's first beat, from which
// host time is counted. Times from long before it are of no use.
const waitForBeat = 600

// reference keeps a time that is new. A receiver tells each second's time in several
// sentences: the first is the least late, and the others are skipped. A sentence
// without a date is skipped too while others have one.
func (t *Timing) reference(s devices.Said) {
	r := &t.refs
	if !s.Time.Has || !s.Time.Valid || s.Time.OfDay {
		if r.mute || s.Time.OfDay && s.Time.Valid && r.last.Has {
			return
		}
		r.mute = true
		t.faults.add(fault(t.Session.ID, s, NoTime))
		return
	}
	r.mute = false
	if r.last.Has && s.Time.Nanos == r.last.Nanos {
		return
	}
	r.last = s.Time
	r.held = append(r.held, sessions.Reference{HostMono: s.At.Mono, HostUTC: s.At.UTC, Nanos: s.Time.Nanos, ByPulse: s.Time.ByPulse})
	if !t.begun && len(r.held) > waitForBeat {
		r.held = append(r.held[:0], r.held[1:]...)
	}
}

func (t *Timing) flushReferences(ctx context.Context) error {
	r := &t.refs
	if !t.begun || len(r.held) == 0 {
		return nil
	}
	told := slices.Clone(r.held) // they are counted anew should this fail
	for i := range told {
		told[i].HostMono -= t.first
	}
	if err := t.Store.AppendReferences(ctx, t.Session.ID, told); err != nil {
		return err
	}
	t.Log.Debug().Int64("session", t.Session.ID).Int("times", len(told)).Msg("reference times in the book")
	if err := t.tell(Event{Kind: References, References: told}); err != nil {
		return err
	}
	r.held = r.held[:0]
	return nil
}

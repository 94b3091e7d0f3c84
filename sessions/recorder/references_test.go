package recorder

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/sessions"
)

// told is a sentence that came at ms and tells a time; what says how it is.
func told(ms, nanos int64, what func(*devices.Time)) devices.Said {
	s := devices.Said{Kind: devices.KindTime, At: stamp(ms), Text: "$GPRMC", Time: devices.Time{Nanos: nanos, Has: true, Valid: true}}
	if what != nil {
		what(&s.Time)
	}
	return s
}

// Reference times are kept in order, by host time since the first beat, the first
// of each second's sentences alone; those before the first beat wait for it. The
// reference's plug does not break the sensor's count, the sensor's does. A pulse, told
// of by a later sentence, doesn't end the session before the last beat.
func TestReferences(t *testing.T) {
	disowned := func(t *devices.Time) { t.Valid = false }
	undated := func(t *devices.Time) { t.OfDay = true }
	byPulse := func(t *devices.Time) { t.ByPulse = true }
	store := &memory{}
	var heard []sessions.Reference
	r := &Timing{Store: store, Session: sessions.Session{ID: 1, ClockID: 2, Started: noon}, Log: zerolog.Nop(),
		Tell: func(e Event) error { heard = append(heard, e.References...); return nil }}
	pulled := func(ms int64) devices.Said {
		return devices.Said{Kind: devices.KindFault, At: stamp(ms), Fault: devices.FaultUnplugged, Text: "gone"}
	}
	in := make(chan []devices.Said, 4)
	in <- OfReference([]devices.Said{told(0, 0, disowned), told(10, 0, disowned), told(20, 7, undated), told(1000, 1e9, nil), told(1040, 1e9, nil), told(1060, 1, undated)})
	in <- []devices.Said{beat(1500, 7)}
	in <- OfReference([]devices.Said{told(2000, 2e9, nil), pulled(2100), told(5000, 5e9, byPulse), told(5000, 5e9, byPulse), told(6000, 6e9, disowned)})
	in <- []devices.Said{beat(6500, 8), pulled(6600), beat(7500, 9), told(7000, 7e9, byPulse)}
	close(in)
	if err := r.Run(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	order := []string{"reference without time", "references", "beats", "reference unplugged", "references", "reference without time", "beats", "unplugged", "references", "beats"}
	if !slices.Equal(store.did, order) {
		t.Errorf("did  %q,\nwant %q", store.did, order)
	}
	at := func(ms, nanos int64) sessions.Reference {
		return sessions.Reference{HostMono: (ms - 1500) * 1e6, HostUTC: stamp(ms).UTC, Nanos: nanos}
	}
	want := []sessions.Reference{at(1000, 1e9), at(2000, 2e9), at(5000, 5e9), at(7000, 7e9)}
	want[2].ByPulse, want[3].ByPulse = true, true
	if d := cmp.Diff(want, store.told); d != "" {
		t.Errorf("reference times (-want +got):\n%s", d)
	}
	if !slices.Equal(heard, want) {
		t.Errorf("heard %v, want %v", heard, want)
	}
	if end := utc(stamp(7500)); !store.endedAt.Equal(end) {
		t.Errorf("ended %v, want %v", store.endedAt, end)
	}
	if b := store.beats; len(b) != 3 || b[1].Break || !b[2].Break {
		t.Errorf("beats %+v: want the last alone behind a break", b)
	}
}

// A receiver that speaks for hours before the first beat fills no memory, and
// nothing is written that can't be counted from a beat.
func TestReferencesWithoutBeats(t *testing.T) {
	store := &memory{}
	r := &Timing{Store: store, Session: sessions.Session{ID: 1, Started: noon}, Log: zerolog.Nop()}
	in := make(chan []devices.Said, 1)
	var said []devices.Said
	for i := range int64(5000) {
		said = append(said, told(i*1000, i*1e9, nil))
	}
	in <- said
	close(in)
	if err := r.Run(t.Context(), in); err != nil || len(store.did) != 0 || len(r.refs.held) != waitForBeat {
		t.Errorf("did %q, %d wait, %v; want nothing done and %d waiting", store.did, len(r.refs.held), err, waitForBeat)
	}
}

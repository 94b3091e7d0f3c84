package analysis

import (
	"math/rand/v2"
	"testing"

	"evenbeat/sessions"
)

// A minute of noise before the clock is heard is spurious, and the beats behind it are
// beats all the same: events and beats are matched from the first event on.
func TestBeatsAfterNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var heard []sessions.Beat
	at := 0.0
	add := func(s float64) {
		heard = append(heard, sessions.Beat{Count: uint64(s * 1e6), HostMono: int64(s*1e9) + 300_000, HostUTC: int64(s*1e9) + 1_700_000_000_000_300_000})
	}
	for range 100 {
		at += 0.02 + 0.9*rng.Float64()
		add(at)
	}
	for range 400 {
		at += 0.5
		add(at)
	}
	ses := sessions.Session{Kind: sessions.SessionTime, Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}
	rows, err := Beats(sessions.Clock{BeatsPerHour: 7200}, ses, func(yield func([]sessions.Beat, error) bool) { yield(heard, nil) }, RateOptions{})
	if err != nil || len(rows) != len(heard) {
		t.Fatalf("%d rows of %d events, error %v", len(rows), len(heard), err)
	}
	beats := 0
	for i, r := range rows[150:] {
		if r.Spurious {
			continue
		}
		if beats++; r.Index != rows[len(rows)-1].Index-int64(349-i) {
			t.Errorf("event %d is beat %d; the last is %d", 150+i, r.Index, rows[len(rows)-1].Index)
		}
	}
	if beats < 345 {
		t.Errorf("%d of the last 350 events are beats, want all", beats)
	}
}

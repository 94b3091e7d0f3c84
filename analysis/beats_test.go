package analysis

import (
	"math/rand/v2"
	"testing"

	"evenbeat/sessions"
)

// beatRows lists the beats of a clock of half seconds.
func beatRows(ses sessions.Session, heard []sessions.Beat) (rows []BeatRow, err error) {
	for r, e := range Beats(sessions.Clock{BeatsPerHour: 7200}, ses, func(yield func([]sessions.Beat, error) bool) { yield(heard, nil) }, RateOptions{}) {
		if err = e; err == nil {
			rows = append(rows, r)
		}
	}
	return rows, err
}

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
	rows, err := beatRows(ses, heard)
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

// A beat 4 ms late with nothing nearer to its place is listed as that beat. Where echoes
// come at that distance all the time, what comes in place of a beat is an echo too.
func TestLateBeatsAreListed(t *testing.T) {
	for _, tc := range []struct {
		name                      string
		echoEvery                 int
		rows, spurious, lateIndex int64 // lateIndex -1: it is spurious
	}{{"alone", 0, 600, 0, 300}, {"among echoes", 10, 659, 60, -1}} {
		t.Run(tc.name, func(t *testing.T) {
			var heard []sessions.Beat
			for i := range 600 {
				us := 1e6 + int64(i)*500_000
				add := func(us int64) {
					heard = append(heard, sessions.Beat{Count: uint64(us), HostMono: us*1000 + 300_000, HostUTC: us*1000 + 1_700_000_000_000_300_000})
				}
				if i == 300 {
					add(us + 4000)
					continue
				}
				if add(us); tc.echoEvery > 0 && i%tc.echoEvery == 0 {
					add(us + 4000)
				}
			}
			ses := sessions.Session{Kind: sessions.SessionTime, Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}
			rows, err := beatRows(ses, heard)
			if err != nil || int64(len(rows)) != tc.rows {
				t.Fatalf("%d rows, error %v; want %d", len(rows), err, tc.rows)
			}
			spurious, index := int64(0), int64(-1)
			for _, r := range rows {
				switch {
				case r.Spurious:
					spurious++
				case r.TimeS > 150.003 && r.TimeS < 150.005:
					index = r.Index
				}
			}
			if spurious != tc.spurious || index != tc.lateIndex {
				t.Errorf("%d spurious, the late one is beat %d; want %d and %d", spurious, index, tc.spurious, tc.lateIndex)
			}
		})
	}
}

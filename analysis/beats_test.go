package analysis

import (
	"iter"
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

// What is read of exported beats claims no more than what the session itself does, however
// short it was and however late its beats came.
func TestExportedClaimsNoMore(t *testing.T) {
	ses := sessions.Session{Kind: sessions.SessionTime, Port: "/dev/ttyACM0", Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostKnown: true}}
	imported := sessions.Session{Kind: sessions.SessionTime, Timing: sessions.Timing{CountRate: 1e9, CountBits: 64}}
	clock := sessions.Clock{BeatsPerHour: 36000}
	for _, n := range []int{20, 60, 600, 6000, 36000} {
		for _, stepUs := range []int64{0, 1000, 16000} {
			rng := rand.New(rand.NewPCG(uint64(n), uint64(stepUs)))
			var heard, back []sessions.Beat
			for i := range n {
				us := 1e6 + int64(i)*100_000 + rng.Int64N(200)
				late := 300 + rng.Int64N(200)
				if stepUs > 0 {
					late = stepUs - us%stepUs
				}
				heard = append(heard, sessions.Beat{Count: uint64(us), HostMono: (us + late) * 1000, HostUTC: (us+late)*1000 + 1_700_000_000_000_000_000})
			}
			one := func(beats []sessions.Beat) iter.Seq2[[]sessions.Beat, error] {
				return func(yield func([]sessions.Beat, error) bool) { yield(beats, nil) }
			}
			own, err := Rate(clock, ses, one(heard), RateOptions{})
			if err != nil {
				t.Fatal(err)
			}
			for row, err := range Beats(clock, ses, one(heard), RateOptions{}) {
				if err != nil {
					t.Fatal(err)
				}
				ns := int64(row.TimeS * 1e9)
				back = append(back, sessions.Beat{Count: uint64(ns), HostMono: ns, HostUTC: ns})
			}
			read, err := Rate(clock, imported, one(back), RateOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if w, least := read.Rate.Half95(), own.Rate.Half95(); w < 0.99*least {
				t.Errorf("%d beats, a step of %d µs: ±%.3g s/day of the session, ±%.3g of its export", n, stepUs, least, w)
			}
		}
	}
}

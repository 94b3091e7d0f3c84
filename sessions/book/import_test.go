package book

import (
	"errors"
	"iter"
	"testing"
	"time"

	"evenbeat/sessions"
)

// TestImportBeats holds a session longer than a chunk against what was given, and
// one whose source fails half-way against nothing at all.
func TestImportBeats(t *testing.T) {
	ctx := t.Context()
	b := newBook(t)
	c, err := b.AddClock(ctx, sessions.Clock{Name: "Barn"})
	if err != nil {
		t.Fatal(err)
	}
	const n = 2*largeChunk + 7
	source := func(fail error) iter.Seq2[[]sessions.Beat, error] {
		return func(yield func([]sessions.Beat, error) bool) {
			var chunk []sessions.Beat
			for i := range int64(n) {
				chunk = append(chunk, sessions.Beat{Count: uint64(i * 500_000_000), HostMono: i * 500_000_000, HostUTC: 1e18 + i*500_000_000})
				if len(chunk) == 1000 || i == n-1 {
					if !yield(chunk, nil) {
						return
					}
					chunk = chunk[:0]
				}
			}
			if fail != nil {
				yield(nil, fail)
			}
		}
	}
	ses := sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Started: time.Unix(0, 1e18), Ended: time.Unix(0, 1e18).Add(time.Hour),
		Timing: sessions.Timing{CountRate: 1e9, CountBits: 64}}
	got, err := b.Import(ctx, Incoming{Session: ses, Beats: source(nil)})
	if err != nil || got != (Imported{New: n}) {
		t.Fatalf("%+v, %v", got, err)
	}
	const id = 1
	var seen int64
	for chunk, err := range b.Beats(ctx, id) {
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range chunk {
			if want := uint64(seen * 500_000_000); x.Count != want {
				t.Fatalf("beat %d: count %d, want %d", seen, x.Count, want)
			}
			seen++
		}
	}
	if seen != n {
		t.Errorf("%d beats, want %d", seen, n)
	}
	broken := errors.New("row 40000: time_s is no number")
	if _, err := b.Import(ctx, Incoming{Session: ses, Beats: source(broken)}); !errors.Is(err, broken) {
		t.Errorf("error %v, want the source's", err)
	}
	all, err := b.Sessions(ctx, c.ID)
	if err != nil || len(all) != 1 || all[0].Ended.IsZero() {
		t.Errorf("sessions after a failed import: %+v, %v; want the first alone, ended", all, err)
	}
}

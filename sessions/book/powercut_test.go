package book

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"evenbeat/sessions"
)

// powerCuts names the variable of the environment that says how often the power is cut.
const powerCuts = "EVENBEAT_POWER_CUTS"

func cutsWanted(t *testing.T, modest int) int {
	t.Helper()
	text := os.Getenv(powerCuts)
	switch {
	case text == "" && testing.Short():
		return modest / 3
	case text == "":
		return modest
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%q: want a number from 1 on", powerCuts, text)
	}
	return n
}

// bench is what is recorded from one power cut to the next, and what was acknowledged.
type bench struct {
	rng      *rand.Rand
	clock    int64
	readings int
	sessions []*listened
	synced   string // PRAGMA synchronous, "" for the book's own
	lost     int    // acknowledged and not there
	cuts     int
	fell     [things]int // into which the cuts fell
}

// listened is a session, and how much of it is in the book.
type listened struct {
	id           int64
	beats, times int
}

// Books through many power cuts, while two programs record into them, while they are
// opened after the cut before, and while they are closed: whatever was acknowledged is
// there.
func TestPowerCuts(t *testing.T) {
	var cuts, readings int
	var fell [things]int
	wanted := cutsWanted(t, 50)
	for seed := uint64(0); cuts < wanted && !t.Failed(); seed++ { // the seed is all one needs to see a failure again
		k := bench{rng: rand.New(rand.NewPCG(seed, 0))}
		k.run(t, min(50, wanted-cuts), func(*disk) {})
		if k.lost > 0 {
			t.Errorf("seed %d: %d rows were acknowledged and lost", seed, k.lost)
		}
		cuts, readings = cuts+k.cuts, readings+k.readings
		for i := range fell {
			fell[i] += k.fell[i]
		}
	}
	t.Logf("%d cuts, %d readings; they fell into %d openings, %d readings, %d beats and times, %d joinings, %d checkpoints, %d closings",
		cuts, readings, fell[opening], fell[reading], fell[listening], fell[joining], fell[folding], fell[closing])
}

// The same disk loses what isn't synced: the test above can fail.
func TestPowerCutsCanLose(t *testing.T) {
	for name, k := range map[string]bench{"off": {synced: "off"}, "normal": {synced: "normal"}, "names not synced": {}} {
		t.Run(name, func(t *testing.T) {
			k.rng = rand.New(rand.NewPCG(3, 0))
			k.run(t, 200, func(d *disk) { d.forgetful = name == "names not synced" })
			if k.lost == 0 {
				t.Errorf("nothing was lost in %d cuts", k.cuts)
			}
		})
	}
}

// run records and cuts the power n times, or until something is lost.
func (k *bench) run(t *testing.T, n int, set func(*disk)) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	b := open(t, path, Options{Create: true})
	k.clock = addClock(t, b, "Hall clock").ID
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	for k.cuts < n && !t.Failed() {
		d, left := newDisk(t, filepath.Dir(path)), filepath.Join(t.TempDir(), strconv.Itoa(k.cuts))
		set(d)
		if err := os.Mkdir(left, 0o700); err != nil {
			t.Fatal(err)
		}
		d.cutAt = 1 + k.rng.IntN(1+k.rng.IntN(800)) // more often while it is opened
		d.off = func() { d.cut(t, k.rng, left) }
		k.record(t, path, d)
		if k.lost > 0 {
			return
		}
		k.cuts++
		path = filepath.Join(left, "book.db")
	}
	b, err := Open(t.Context(), path, Options{})
	if err != nil {
		k.lose(t, err)
		return
	}
	k.holds(t, b, k.sessions)
	if err := b.Close(); err != nil {
		t.Error(err)
	}
}

// lose takes what can't be read for lost; a book that keeps its promise has no such thing.
func (k *bench) lose(t *testing.T, err error) {
	t.Helper()
	k.lost++
	t.Logf("cut %d: %v", k.cuts, err)
}

// The things that are done; a cut falls into one of them.
const (
	opening = iota
	reading
	listening
	joining
	folding
	closing
	things
)

// often is how often each is done.
var often = []int{opening, reading, reading, reading, listening, listening, listening, joining, folding, closing, closing}

// record opens the book and records until the power is cut.
func (k *bench) record(t *testing.T, path string, d *disk) {
	t.Helper()
	var open [2]*Book // as two programs have it open
	defer func() {
		for _, b := range open {
			if b != nil {
				_ = b.Close() // without power
			}
		}
	}()
	var err error
	doing := opening
	for first := true; err == nil && k.lost == 0 && d.cutAt > 0; doing = often[k.rng.IntN(len(often))] {
		i := k.rng.IntN(len(open))
		if open[i] == nil {
			doing = opening
		}
		switch doing {
		case opening:
			if open[i] == nil {
				open[i], err = k.open(t, path, d, first)
				first = false
			}
		case closing:
			err, open[i] = open[i].Close(), nil
		default:
			err = k.do(t, open[i], doing)
		}
		if d.cutAt <= 0 {
			k.fell[doing]++
			return
		}
	}
	if err != nil {
		k.lose(t, err)
	}
}

// open opens the book. The first time after a cut it looks for all that should be there,
// and begins a session.
func (k *bench) open(t *testing.T, path string, d *disk, first bool) (*Book, error) {
	b, err := Open(t.Context(), path, Options{vfs: d.name})
	if err != nil {
		return nil, err
	}
	if k.synced != "" {
		b.db.SetMaxOpenConns(1)
		if _, err := b.db.Exec("PRAGMA synchronous = " + k.synced); err != nil {
			return b, err
		}
	}
	if !first {
		return b, nil
	}
	k.holds(t, b, k.sessions[max(0, len(k.sessions)-4):])
	s := &listened{}
	if s.id, err = b.StartSession(t.Context(), sessions.Session{ClockID: k.clock, Kind: sessions.SessionTime, Started: noon}); err == nil {
		k.sessions = append(k.sessions, s)
	}
	return b, err
}

// do does one thing, and notes what was acknowledged.
func (k *bench) do(t *testing.T, b *Book, doing int) error {
	ctx := context.WithoutCancel(t.Context())
	s := k.sessions[max(0, len(k.sessions)-1-k.rng.IntN(2))]
	switch doing {
	case reading:
		_, err := b.AddReading(ctx, sessions.Reading{SessionID: s.id, ClockID: k.clock, At: noon, Dimension: "bore", Kind: sessions.Inside,
			Value: float64(k.readings + 1), State: sessions.Kept, Text: "63.50mm"})
		if err == nil {
			k.readings++
		}
		return err
	case listening:
		beats := make([]sessions.Beat, 1+k.rng.IntN(30))
		for i := range beats {
			beats[i].Count = uint64(s.beats + i)
		}
		err := b.AppendBeats(ctx, s.id, beats)
		if err != nil {
			return err
		}
		s.beats += len(beats)
		if err = b.AppendReferences(ctx, s.id, []sessions.Reference{{Nanos: int64(s.times)}}); err == nil {
			s.times++
		}
		return err
	case joining:
		return b.CompactBeats(ctx, s.id)
	}
	return b.Checkpoint(ctx)
}

// holds looks for all that was acknowledged, in some of the sessions. What a cut fell into may be there too: it
// counts as acknowledged from now on.
func (k *bench) holds(t *testing.T, b *Book, of []*listened) {
	t.Helper()
	readings, err := b.Readings(t.Context(), k.clock)
	r, cerr := b.Check(t.Context())
	if err := errors.Join(err, cerr); err != nil || !r.OK() {
		k.lose(t, fmt.Errorf("%w, %q", err, r.Problems))
		return
	}
	for i, r := range readings {
		if r.Value != float64(i+1) {
			t.Errorf("reading %d is %v", i+1, r.Value)
		}
	}
	k.lost += max(0, k.readings-len(readings))
	k.readings = len(readings)
	for _, s := range of {
		var beats, times int
		for part, err := range b.Beats(t.Context(), s.id) {
			if err != nil {
				k.lose(t, err)
			}
			for i, x := range part {
				if x.Count != uint64(beats+i) {
					t.Errorf("beat %d of session %d is %d", beats+i, s.id, x.Count)
				}
			}
			beats += len(part)
		}
		told, err := b.References(t.Context(), s.id)
		if err != nil {
			k.lose(t, err)
		}
		times = len(told)
		k.lost += max(0, s.beats-beats) + max(0, s.times-times)
		s.beats, s.times = beats, times
	}
}

// The power is cut while a book of an old layout is brought to the newest: it is then of one
// of them, and holds what it held.
func TestPowerCutsInMigration(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 0)) // the seed is all one needs to see a failure again
	for layout := 1; layout < len(migrations()); layout++ {
		data, err := os.ReadFile(bookOfLayout(layout))
		if err != nil {
			t.Fatal(err)
		}
		// migrated opens it, and returns what is left of it by a cut; "" if none came.
		migrated := func(cutAt int) (left string, did int) {
			path := filepath.Join(t.TempDir(), "book.db")
			writeFile(t, path, string(data))
			d := newDisk(t, filepath.Dir(path))
			d.cutAt = cutAt
			d.off = func() { left = t.TempDir(); d.cut(t, rng, left) }
			b, err := Open(t.Context(), path, Options{vfs: d.name})
			if err == nil {
				err = b.Close()
			}
			if left == "" && err != nil {
				t.Fatal(err)
			}
			return left, cutAt - d.cutAt
		}
		const never = 1 << 30
		_, whole := migrated(never)
		for range (cutsWanted(t, 18) + 5) / 6 {
			cutAt := 1 + rng.IntN(whole)
			left, _ := migrated(cutAt)
			b := open(t, filepath.Join(left, "book.db"), Options{})
			sound(t, b)
			holdsLayout(t, b, layout)
			if t.Failed() {
				t.Fatalf("layout %d, cut at %d of %d", layout, cutAt, whole)
			}
		}
	}
}

package book

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"evenbeat/sessions"
)

// workplace is one of two at which a book is kept.
type workplace struct {
	path string
	time time.Time
}

// at opens its book, has f add to it, and closes it. Time goes on with every look.
func (b *workplace) at(t *testing.T, f func(b *Book)) {
	t.Helper()
	book, err := Open(t.Context(), b.path, Options{Create: true, Now: func() time.Time {
		b.time = b.time.Add(1234567 * time.Nanosecond)
		return b.time
	}})
	if err != nil {
		t.Fatal(err)
	}
	f(book)
	if err := book.Close(); err != nil {
		t.Fatal(err)
	}
}

func twoBenches(t *testing.T) (one, two *workplace) {
	return &workplace{filepath.Join(t.TempDir(), "one.db"), noon}, &workplace{filepath.Join(t.TempDir(), "two.db"), noon.Add(time.Hour)}
}

func merged(t *testing.T, into, from string) Merged {
	t.Helper()
	was := sum(t, from)
	m, err := Merge(t.Context(), into, from, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if sum(t, from) != was {
		t.Errorf("%s was changed", from)
	}
	b, err := Open(t.Context(), into, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	sound(t, b)
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	return m
}

// stands are rows that were not taken back, in the form of those that were.
func stands[T any](rows []T) (all []sessions.TakenBack[T]) {
	for _, x := range rows {
		all = append(all, sessions.TakenBack[T]{Row: x, Why: "stands"})
	}
	return all
}

// said is all that a book says, without its numbers: what it holds of each clock, by name.
func said(t *testing.T, path string) string {
	t.Helper()
	b, err := Open(t.Context(), path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	clocks, err := b.Clocks(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, c := range clocks {
		r, err := b.Record(t.Context(), c.ID)
		if err != nil {
			t.Fatal(err)
		}
		c.ID = 0
		lines = append(lines, fmt.Sprintf("%+v", c))
		began := map[int64]string{}
		for _, x := range slices.Concat(stands(r.Sessions), r.Withdrawn.Sessions) {
			s := &x.Row
			beats, breaks := beatsOf(t, b, s.ID)
			faults, _ := b.Faults(t.Context(), s.ID)
			for j := range faults {
				faults[j].ID, faults[j].SessionID = 0, 0
			}
			told, _ := b.References(t.Context(), s.ID)
			host, _ := b.HostReadings(t.Context(), s.ID)
			began[s.ID] = s.Started.String()
			s.ID, s.ClockID = 0, 0
			lines = append(lines, fmt.Sprintf("%s: %+v %v %v %v %v %v", c.Name, x, beats, breaks, faults, told, host))
		}
		for _, x := range r.Readings {
			from := began[x.SessionID]
			x.Why = strings.ReplaceAll(x.Why, fmt.Sprintf("session %d ", x.SessionID), "its session ")
			x.ID, x.ClockID, x.SessionID = 0, 0, 0
			lines = append(lines, fmt.Sprintf("%s, %s: %+v", c.Name, from, x))
		}
		for _, x := range slices.Concat(stands(r.Checks), r.Withdrawn.Checks) {
			x.Row.ID, x.Row.ClockID = 0, 0
			lines = append(lines, fmt.Sprintf("%s: %+v", c.Name, x))
		}
		for _, x := range slices.Concat(stands(r.Events), r.Withdrawn.Events) {
			x.Row.ID, x.Row.ClockID = 0, 0
			lines = append(lines, fmt.Sprintf("%s: %+v", c.Name, x))
		}
		for _, x := range slices.Concat(stands(r.Air), r.Withdrawn.Air) {
			x.Row.ID, x.Row.ClockID = 0, 0
			lines = append(lines, fmt.Sprintf("%s: %+v", c.Name, x))
		}
		for _, x := range slices.Concat(stands(r.Particulars), r.Withdrawn.Particulars) {
			x.Row.ID, x.Row.ClockID = 0, 0
			lines = append(lines, fmt.Sprintf("%s: %+v", c.Name, x))
		}
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// work is what may be done at a bench: one thing, by chance.
func work(t *testing.T, r *rand.Rand, b *Book, clocks int) {
	t.Helper()
	now := b.now()
	try := func(id int64, err error) int64 {
		t.Helper()
		if k := kindOf(err); err != nil && k != KindUnknown {
			t.Fatal(err)
		}
		return id
	}
	clock := 1 + r.Int64N(int64(clocks))
	switch r.IntN(11) {
	case 0, 1:
		try(b.AddCheck(t.Context(), sessions.Check{ClockID: clock, At: now, ErrorS: r.Float64(), U: 0.1}))
	case 2:
		try(b.AddEvent(t.Context(), sessions.Event{ClockID: clock, At: now, Kind: sessions.EventSet, Before: 3, HasBefore: true, HasAfter: true, Text: "set"}))
	case 3:
		try(b.AddAir(t.Context(), sessions.Air{ClockID: clock, At: now, TemperatureC: 20, HasTemperature: true}))
	case 4, 5:
		ses := try(b.StartSession(t.Context(), sessions.Session{ClockID: clock, Kind: sessions.SessionTime, Port: "/dev/ttyACM0", Started: now, Timing: sessions.Timing{CountRate: 1e6, CountBits: 32}}))
		for range r.IntN(3) {
			if err := b.AppendBeats(t.Context(), ses, sensor(r.Uint64(), 20)); err != nil {
				t.Fatal(err)
			}
		}
		try(b.AddFault(t.Context(), sessions.Fault{SessionID: ses, At: now, Kind: "silence", Text: "nothing"}))
		if r.IntN(2) == 0 {
			try(0, b.EndSession(t.Context(), ses, b.now()))
		}
	case 6:
		ses := try(b.StartSession(t.Context(), sessions.Session{ClockID: clock, Kind: sessions.SessionMeasure, Part: "barrel", Started: now}))
		for range 3 { // the same length, read three times
			try(b.AddReading(t.Context(), sessions.Reading{SessionID: ses, ClockID: clock, At: now, Part: "barrel", Dimension: "bore", Kind: sessions.Inside,
				Value: 0.06, State: sessions.Doubtful, Why: "odd", Text: "60 mm", Instrument: "typed"}))
		}
	case 7:
		try(0, b.Withdraw(t.Context(), Things()[r.IntN(len(Things()))], 1+r.Int64N(12), "a mistake"))
	case 8:
		_, err := b.AddParticulars(t.Context(), []sessions.Particular{{ClockID: clock, At: now, Part: "barrel", Name: sessions.SpringEnd, Value: []string{"hole", "loop"}[r.IntN(2)]}})
		try(0, err)
	case 9:
		try(0, b.MoveSession(t.Context(), 1+r.Int64N(4), clock, "strike"))
	default:
		all, err := b.Clocks(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		c := all[clock-1]
		c.Rod = []string{"wood", "steel", "brass"}[r.IntN(3)]
		try(0, b.EditClock(t.Context(), c))
	}
}

// A book was copied, and both were used further. Merged either way round they say the same,
// all of it, and no merging again adds anything.
func TestMergeTwoBenches(t *testing.T) {
	n := 30
	if testing.Short() {
		n = 3
	}
	for seed := range n {
		r := rand.New(rand.NewPCG(uint64(seed), 14))
		one, two := twoBenches(t)
		one.at(t, func(b *Book) {
			addClock(t, b, "Hall clock")
			addClock(t, b, "Landing clock")
			for range 8 {
				work(t, r, b, 2)
			}
		})
		writeFile(t, two.path, string(readFile(t, one.path)))
		two.time = one.time.Add(time.Minute)
		both := []*workplace{one, two}
		for range 12 {
			both[r.IntN(2)].at(t, func(b *Book) { work(t, r, b, 2) })
			for _, x := range both { // their clocks never tell the same time
				x.time = x.time.Add(time.Duration(r.IntN(1e9)))
			}
		}
		first, second := filepath.Join(t.TempDir(), "first.db"), filepath.Join(t.TempDir(), "second.db")
		writeFile(t, first, string(readFile(t, one.path)))
		writeFile(t, second, string(readFile(t, two.path)))
		merged(t, first, two.path)
		merged(t, second, one.path)
		if a, b := said(t, first), said(t, second); a != b {
			t.Fatalf("seed %d: merged one way round the book says\n%s\nand the other\n%s", seed, a, b)
		}
		for _, from := range []string{one.path, two.path, second} {
			if m := merged(t, first, from); m.Added != 0 || m.Copy != "" {
				t.Errorf("seed %d: merging %s once more adds %+v", seed, filepath.Base(from), m)
			}
		}
		holdsAllOf(t, first, one.path, two.path)
	}
}

// holdsAllOf holds the numbers of rows of a merged book against those of which it was made.
func holdsAllOf(t *testing.T, path string, of ...string) {
	t.Helper()
	all := rowsOf(t, path)
	for _, from := range of {
		for table, rows := range rowsOf(t, from) {
			if len(all[table]) < len(rows) && table != "beat_chunks" && table != "clock_uses" {
				t.Errorf("it has %d rows of %s, fewer than the %d of %s", len(all[table]), table, len(rows), filepath.Base(from))
			}
		}
	}
}

// Books that were begun at two benches on their own have their clocks by name. Where what
// is known of two of a name differs, both are kept.
func TestMergeStrangers(t *testing.T) {
	one, two := twoBenches(t)
	one.at(t, func(b *Book) {
		addClock(t, b, "Hall clock")
		addClock(t, b, "Kitchen clock")
	})
	two.at(t, func(b *Book) {
		for _, c := range []sessions.Clock{{Name: "hall clock", Rod: "wood"}, {Name: "Kitchen clock", BeatsPerHour: 7200}, {Name: "Attic clock"}} {
			c, err := b.AddClock(t.Context(), c)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon, ErrorS: 1}); err != nil {
				t.Fatal(err)
			}
		}
	})
	m := merged(t, one.path, two.path)
	want := []MergedClock{{From: "hall clock", Name: "Hall clock", Joined: true}, {From: "Kitchen clock", Name: "Kitchen clock (2)", New: true}, {From: "Attic clock", Name: "Attic clock", New: true}}
	if !slices.Equal(m.Clocks, want) {
		t.Errorf("clocks %+v, want %+v", m.Clocks, want)
	}
	b := open(t, one.path, Options{ReadOnly: true})
	for name, checks := range map[string]int{"Hall clock": 1, "Kitchen clock": 0, "Kitchen clock (2)": 1, "Attic clock": 1} {
		c, err := b.ClockByName(t.Context(), name)
		if err != nil {
			t.Fatal(err)
		}
		if r, _ := b.Record(t.Context(), c.ID); len(r.Checks) != checks {
			t.Errorf("%s has %d checks, want %d", name, len(r.Checks), checks)
		}
	}
	// The newer description rules, though the other book is the one that was merged.
	if c, _ := b.ClockByName(t.Context(), "Hall clock"); c.Rod != "wood" {
		t.Errorf("the Hall clock's rod is %s, want the newest, wood", c.Rod)
	}
	if m := merged(t, one.path, two.path); m.Added != 0 {
		t.Errorf("merging it again adds %+v", m)
	}
}

// What came by an export and an import is the same row as where it came from.
func TestMergeImported(t *testing.T) {
	one, two := twoBenches(t)
	var in Incoming
	beats := sensor(4, 50)
	in.Beats = func(yield func([]sessions.Beat, error) bool) { yield(beats, nil) }
	one.at(t, func(b *Book) {
		c := addClock(t, b, "Hall clock")
		other := addClock(t, b, "Landing clock")
		ses := startSession(t, b, other.ID, sessions.SessionMeasure)
		for i := range 3 {
			_, err := b.AddReading(t.Context(), sessions.Reading{SessionID: ses, ClockID: other.ID, At: noon.Add(time.Duration(i)), Part: "barrel", Dimension: "bore",
				Kind: sessions.Inside, Value: 0.06, Limit: 4e-5, State: sessions.Kept, Text: "60 mm", Instrument: "caliper"})
			if err != nil {
				t.Fatal(err)
			}
		}
		if err := b.MoveSession(t.Context(), ses, c.ID, "strike"); err != nil {
			t.Fatal(err)
		}
		if _, err := b.AddEvent(t.Context(), sessions.Event{ClockID: c.ID, At: noon, Kind: sessions.EventSet, Before: 9, HasBefore: true}); err != nil {
			t.Fatal(err)
		}
		if _, err := b.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: noon, ErrorS: 1}); err != nil {
			t.Fatal(err)
		}
		in.Session = sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Started: b.now(), Timing: sessions.Timing{CountRate: 1e9, CountBits: 64}}
		in.Session.Ended = in.Session.Started
		if _, err := b.Import(t.Context(), in); err != nil {
			t.Fatal(err)
		}
		rec, err := b.Record(t.Context(), c.ID)
		if err != nil {
			t.Fatal(err)
		}
		in.Readings, in.Checks, in.Events = rec.Readings, rec.Checks, rec.Events
		in.Events[0].HasBefore, in.Events[0].Before = false, 0 // an export doesn't have it
		for i := range in.Readings {
			in.Readings[i].SessionID = 0
		}
	})
	two.at(t, func(b *Book) {
		addClock(t, b, "Hall clock")
		in.Session.Started = b.now()
		in.Session.Ended = in.Session.Started
		if n, err := b.Import(t.Context(), in); err != nil || n.New != 55 {
			t.Fatalf("imported %+v, %v", n, err)
		}
	})
	before := said(t, one.path)
	m := merged(t, one.path, two.path)
	if got := said(t, one.path); got != before {
		t.Errorf("after the merge it says\n%s\nwas\n%s\n%+v", got, before, m)
	}
	m = merged(t, two.path, one.path)
	for _, table := range m.Tables {
		if slices.Contains([]string{"readings", "checks", "events", "beat_chunks"}, table.Table) && table.Added > 0 {
			t.Errorf("the other way round %d rows of %s were added", table.Added, table.Table)
		}
	}
}

// A book that was copied while a session recorded gets the rest of its beats and its end.
func TestMergeLongerSession(t *testing.T) {
	one, two := twoBenches(t)
	all := sensor(9, 30000)
	var ses int64
	one.at(t, func(b *Book) {
		ses = startSession(t, b, addClock(t, b, "Hall clock").ID, sessions.SessionTime)
		if err := b.AppendBeats(t.Context(), ses, all[:17000]); err != nil {
			t.Fatal(err)
		}
	})
	writeFile(t, two.path, string(readFile(t, one.path)))
	one.at(t, func(b *Book) {
		if err := b.AppendBeats(t.Context(), ses, all[17000:]); err != nil {
			t.Fatal(err)
		}
		if err := b.EndSession(t.Context(), ses, noon.Add(time.Hour)); err != nil {
			t.Fatal(err)
		}
	})
	merged(t, two.path, one.path)
	if a, b := said(t, one.path), said(t, two.path); a != b {
		t.Error("the copy doesn't hold what the book does")
	}
	if m := merged(t, one.path, two.path); m.Added != 0 {
		t.Errorf("the other way round %+v", m)
	}
}

// What can't be merged is refused, and nothing is changed.
func TestMergeRefused(t *testing.T) {
	path, other := closedBook(t), closedBook(t)
	hurt := filepath.Join(t.TempDir(), "hurt.db")
	writeFile(t, hurt, string(readFile(t, path)))
	root := rootOf(t, other, "checks")
	edit(t, hurt, func(d []byte) []byte {
		d[root*pageSize-20] ^= 4
		return d
	})
	held := closedBook(t)
	open(t, held, Options{})
	for name, c := range map[string]struct {
		into, from string
		kind       Kind
	}{
		"itself": {path, path, KindInput}, "a damaged one": {path, hurt, KindDamaged}, "into a damaged one": {hurt, path, KindDamaged},
		"none": {path, path + "x", KindMissing}, "into none": {path + "x", path, KindMissing}, "into one in use": {held, other, KindBusy},
	} {
		before := sum(t, c.into)
		if m, err := Merge(t.Context(), c.into, c.from, Options{}); kindOf(err) != c.kind || m.Copy != "" {
			t.Errorf("%s: got %v (%s), %+v", name, err, kindOf(err), m)
		}
		if left, _ := CopiesOf(c.into); sum(t, c.into) != before || len(left) > 0 {
			t.Errorf("%s: the book was changed, or %v left", name, left)
		}
	}
}

// A book of each older layout is merged without being changed, from a read-only place too.
func TestMergeOldLayout(t *testing.T) {
	for layout := 1; layout <= len(migrations()); layout++ {
		from, into := filepath.Join(t.TempDir(), "old.db"), closedBook(t)
		writeFile(t, from, string(readFile(t, bookOfLayout(layout))))
		merged(t, into, from)
		if got := files(t, filepath.Dir(from)); !slices.Equal(got, []string{"old.db"}) {
			t.Errorf("layout %d: beside it lie %v", layout, got)
		}
		b := open(t, into, Options{ReadOnly: true})
		if c, err := b.ClockByName(t.Context(), "Saltmarsh regulator"); err != nil {
			t.Error(err)
		} else if r, err := b.Record(t.Context(), c.ID); err != nil || len(r.Readings) != 3 || r.Readings[2].State != sessions.Undone {
			t.Errorf("layout %d: %+v, %v", layout, r, err)
		}
	}
}

package live

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"testing"

	"evenbeat/analysis"
	"evenbeat/devices"
	"evenbeat/devices/simulate"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// recording is a source that can be paused and goes on where it stopped.
type recording struct {
	chunks []devices.Chunk
}

func (r *recording) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	for len(r.chunks) > 0 {
		c := r.chunks[0]
		r.chunks = r.chunks[1:]
		if err := deliver(c); err != nil {
			return err
		}
	}
	return nil
}

// beatsOfClock is what a count sensor says of an hour, with echoes and missed beats.
func beatsOfClock(t *testing.T, seed uint64) (chunks []devices.Chunk, counts []uint64) {
	t.Helper()
	cfg := simulate.EvenClock(seed)
	cfg.Span, cfg.Echo, cfg.Missed, cfg.Jitter = 3600, 0.06, 0.03, 80e-6
	cfg.Delay = simulate.Delay{Least: 100e-6, Mean: 800e-6, Most: 16e-3}
	clock, err := simulate.NewClock(cfg)
	if err != nil {
		t.Fatal(err)
	}
	for e := range clock.Beats(0, 300) {
		at := e.Arrival - e.Arrival%1000 // whole microseconds, as the book keeps them
		chunks = append(chunks, devices.Chunk{At: devices.Stamp{Mono: at, UTC: 1772366400e9 + at}, Bytes: e.AppendLine(nil)})
		counts = append(counts, e.Count)
	}
	return chunks, counts
}

func countsOf(beats []sessions.Beat) (counts []uint64) {
	for _, b := range beats {
		counts = append(counts, b.Count)
	}
	return counts
}

// misread has the clock timed as if it had been taken for an instrument of a format.
// doubt tells that it was recognised, and not named.
func misread(t *testing.T, b Bench, chunks []devices.Chunk, format string, doubt bool, store *memory) (*Timing, error) {
	t.Helper()
	ins, err := b.Instrument(format)
	if err != nil {
		t.Fatal(err)
	}
	in := Input{Instrument: ins, Port: "here", Source: &recording{chunks}}
	if doubt {
		in.Other = b.Instrument
	}
	timing := b.NewTiming(sessions.Clock{Name: "Hall", BeatsPerHour: 3600}, in, TimingOptions{Now: now})
	return timing, timing.Run(t.Context(), store)
}

// A count taken for an interval is noticed while the session runs. The next session
// holds every line from the first on, and has the rate.
func TestFormatIsJudgedAgain(t *testing.T) {
	for seed := range uint64(20) {
		chunks, counts := beatsOfClock(t, seed)
		store := &memory{}
		timing, err := misread(t, onBench(t), chunks, "interval-lines", true, store)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		got := countsOf(store.beats)
		wrong := len(got) - len(counts)
		if wrong < 1 || wrong > firstDoubt || !slices.Equal(got[max(0, wrong):], counts) {
			t.Errorf("seed %d: %d beats are kept of %d, want all of them after at most %d misread ones", seed, len(got), len(counts), firstDoubt)
		}
		if f := store.faults; len(f) != 1 || f[0].Kind != string(recorder.ReadAnew) {
			t.Errorf("seed %d: got faults %+v, want the misread session to say so", seed, f)
		}
		s := timing.State()
		if s.Session.Profile != "count-lines" || s.Session.Timing.CountBits != 32 {
			t.Errorf("seed %d: got session %+v, want one of count-lines", seed, s.Session)
		}
		if beats := s.Estimate.Result.Beats; beats < 250 {
			t.Errorf("seed %d: got %d beats, want some 290", seed, beats)
		}
	}
}

// What the user named stands, and so does what was recognised rightly.
func TestFormatStands(t *testing.T) {
	chunks, counts := beatsOfClock(t, 1)
	for _, named := range []bool{true, false} {
		format := "count-lines"
		if named {
			format = "interval-lines"
		}
		store := &memory{}
		timing, err := misread(t, onBench(t), chunks, format, !named, store)
		if (err != nil) != named || len(store.beats) != len(counts) || len(store.faults) != 0 {
			t.Errorf("%s: %d beats of %d, %d faults, %v", format, len(store.beats), len(counts), len(store.faults), err)
		}
		if got := timing.State().Session.Profile; got != format {
			t.Errorf("%s became %s", format, got)
		}
	}
}

// keptBeats is a book with what a memory holds.
type keptBeats struct{ *memory }

func (k keptBeats) Beats(context.Context, int64) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		for part := range slices.Chunk(k.beats, 7) {
			if !yield(part, nil) {
				return
			}
		}
	}
}

func (k keptBeats) Faults(context.Context, int64) ([]sessions.Fault, error) { return k.faults, nil }

// A session is read anew as another format from the lines that its beats and faults
// tell, or from its raw bytes, and is then as if it had been read so at once: counts,
// host times, the plug that was pulled, and the lines that had been refused.
func TestReread(t *testing.T) {
	chunks, _ := beatsOfClock(t, 3)
	gone := chunks[60].At
	chunks = slices.Insert(chunks, 61,
		devices.Chunk{At: gone, Fault: devices.FaultUnplugged}, devices.Chunk{At: devices.Stamp{Mono: gone.Mono + 5e6, UTC: gone.UTC + 5e6}, Fault: devices.FaultReplugged})
	for i := range chunks[:10] { // with an edge, which no interval has
		chunks[2*i].Bytes = fmt.Appendf(nil, "%s,1\r\n", chunks[2*i].Bytes[:len(chunks[2*i].Bytes)-2])
	}
	for _, c := range []struct {
		format string
		raw    bool
	}{{"interval-lines", false}, {"interval-lines", true}, {"utc-lines", false}, {"byte-beats", true}} {
		b := onBench(t)
		b.Settings.KeepRaw, b.Settings.Book = c.raw, t.TempDir()+"/book.db"
		right, wrong := &memory{}, &memory{}
		want, err := misread(t, onBench(t), slices.Clone(chunks), "count-lines", false, right)
		if err != nil {
			t.Fatal(err)
		}
		timing, err := misread(t, b, slices.Clone(chunks), c.format, false, wrong)
		if slices.Equal(wrong.beats, right.beats) || (err == nil) != (c.format == "byte-beats") {
			t.Fatalf("read as %s: %d beats, %v", c.format, len(wrong.beats), err)
		}
		ses, beats, err := b.Reread(t.Context(), keptBeats{wrong}, timing.State().Session, "count-lines")
		if err != nil {
			t.Fatal(err)
		}
		var got []sessions.Beat
		for part, err := range beats {
			if err != nil {
				t.Fatal(err)
			}
			got = append(got, part...)
		}
		if shift := got[0].HostMono - right.beats[0].HostMono; shift != 0 { // counted from the first line taken for a beat
			for i := range got {
				got[i].HostMono -= shift
			}
		}
		if !slices.Equal(got, right.beats) {
			t.Errorf("%v: got %d beats, want the %d of count-lines", c, len(got), len(right.beats))
		}
		f, err := analysis.Rate(sessions.Clock{BeatsPerHour: 3600}, ses, func(yield func([]sessions.Beat, error) bool) { yield(got, nil) }, analysis.RateOptions{})
		if err != nil || f.Beats != want.State().Estimate.Result.Beats || f.Rate != want.State().Estimate.Result.Rate {
			t.Errorf("%v: got %v of %d beats, %v, want %v", c, f.Rate, f.Beats, err, want.State().Estimate.Result.Rate)
		}
	}
}

// Only a beat sensor's formats can be asked for, and only what was kept can be read.
func TestRereadRefuses(t *testing.T) {
	b := onBench(t)
	b.Settings.Book = t.TempDir() + "/book.db"
	for _, c := range []struct{ profile, as, want string }{
		{"interval-lines", "text-length", "text-length is no format of a beat sensor"},
		{"interval-lines", "lines", `wire format "lines" is not known: use one of`},
		{"byte-beats", "count-lines", "session 4 was read as byte-beats, and its bytes are not kept: they are with keep_raw in the settings"},
	} {
		_, _, err := b.Reread(t.Context(), keptBeats{&memory{}}, sessions.Session{ID: 4, Profile: c.profile}, c.as)
		if err == nil || len(err.Error()) < len(c.want) || err.Error()[:len(c.want)] != c.want {
			t.Errorf("%s as %s: got %v, want %s", c.profile, c.as, err, c.want)
		}
	}
}

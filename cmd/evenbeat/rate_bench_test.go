package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"iter"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// quickTrain beats 28800 an hour; its escape wheel turns in 60 beats, its fourth
// arbor in 480.
const quickTrain = "96/8,75/10,80/10,64/8,30"

// manyBeats makes up a sensor's events of n beats at eight a second, 4096 at a time:
// a microsecond counter of 32 bits, 12.5 s/day fast, tick and tock 0.8 ms apart, two
// wheels at fault, 0.1 ms of scatter, two beats in a thousand missed and one event in
// a thousand spurious; each line reaches the host 0.2 to 0.5 ms later.
func manyBeats(n int64) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		rng := rand.New(rand.NewPCG(28800, 1))
		interval := 0.125e6 / (1 + 12.5/86400) // µs
		chunk := make([]sessions.Beat, 0, 4096)
		add := func(at float64) bool {
			late := int64(200_000 + 300_000*rng.Float64())
			mono := int64(at)*1000 + late
			chunk = append(chunk, sessions.Beat{Count: uint64(at) & math.MaxUint32, HostMono: mono, HostUTC: 1_700_000_000_000_000_000 + mono})
			if len(chunk) < cap(chunk) {
				return true
			}
			more := yield(chunk, nil)
			chunk = chunk[:0]
			return more
		}
		for k := range n {
			f := float64(k)
			at := 1e6 + f*interval + 400*float64(k&1) + 100*rng.NormFloat64() +
				500*math.Sin(2*math.Pi*math.Mod(f/480, 1)) + 200*math.Sin(2*math.Pi*math.Mod(f/60, 1))
			switch rng.IntN(1000) {
			case 0, 1:
				continue
			case 2: // an echo
				if !add(at) || !add(at+4000+20_000*rng.Float64()) {
					return
				}
				continue
			}
			if !add(at) {
				return
			}
		}
		if len(chunk) > 0 {
			yield(chunk, nil)
		}
	}
}

// fillBook makes a book of one clock and one session with n beats.
func fillBook(ctx context.Context, tb testing.TB, path string, n int64) {
	tb.Helper()
	b, err := book.Open(ctx, path, book.Options{Create: true})
	if err != nil {
		tb.Fatal(err)
	}
	defer func() {
		if err := b.Close(); err != nil {
			tb.Error(err)
		}
	}()
	c, err := b.AddClock(ctx, sessions.Clock{Name: "Carriage clock", Train: quickTrain, BeatsPerTooth: 2, HourArbor: 2})
	if err != nil {
		tb.Fatal(err)
	}
	start := time.Unix(1_700_000_000, 0)
	ses := sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Started: start, Ended: start.Add(time.Duration(n) * time.Second / 8),
		Timing: sessions.Timing{CountRate: 1e6, CountBits: 32, HostKnown: true, HostSynced: true}}
	if _, err := b.Import(ctx, book.Incoming{Session: ses, Beats: manyBeats(n)}); err != nil {
		tb.Fatal(err)
	}
}

// BenchmarkRate finds the rate of a day and a week of beats, as the command does
// from its flags to its JSON: from a text, and from a book. What the file itself
// costs is the floor of analysis/beat/textfile.
func BenchmarkRate(b *testing.B) {
	for _, run := range []struct {
		name  string
		beats int64
	}{{"day", 691_200}, {"week", 4_838_400}} {
		dir := b.TempDir()
		text, record := filepath.Join(dir, "beats.csv"), filepath.Join(dir, "book.db")
		writeBeats(b, text, run.beats)
		fillBook(b.Context(), b, record, run.beats)
		b.Run("text/"+run.name, func(b *testing.B) {
			benchRate(b, run.beats, "rate", "--beats", text, "--train", quickTrain, "--json")
		})
		b.Run("book/"+run.name, func(b *testing.B) {
			benchRate(b, run.beats, "--book", record, "rate", "--json")
		})
	}
}

func writeBeats(b *testing.B, path string, n int64) {
	b.Helper()
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	var line []byte
	for chunk := range manyBeats(n) {
		for _, beat := range chunk {
			line = append(strconv.AppendUint(line[:0], beat.Count, 10), '\n')
			if _, err := w.Write(line); err != nil {
				b.Fatal(err)
			}
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
}

func benchRate(b *testing.B, beats int64, args ...string) {
	b.Helper()
	environ := []string{"HOME=" + b.TempDir()}
	var out bytes.Buffer
	b.ReportAllocs()
	for b.Loop() {
		out.Reset()
		if status := run(b.Context(), args, environ, nil, &out, io.Discard); status != statusDone {
			b.Fatalf("status %d", status)
		}
	}
	b.ReportMetric(float64(beats)*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
	var got struct {
		Rate struct {
			Value float64 `json:"value"`
		} `json:"rate_s_per_day"`
	}
	if err := json.Unmarshal(out.Bytes(), &got); err != nil || math.Abs(got.Rate.Value-12.5) > 0.1 {
		b.Errorf("rate %g s/day, error %v; the clock gains 12.5", got.Rate.Value, err)
	}
}

// yearBook names the variable of the environment that asks for a book of a year of
// beats, 250 million, and tells where to write it; some 700 MB. To see what it takes:
// time evenbeat --book FILE rate --json.
const yearBook = "EVENBEAT_YEAR_BOOK"

// A year of beats goes into a book, and its rate comes out as it went in. By default
// an hour of it.
func TestYearOfBeats(t *testing.T) {
	path, n := filepath.Join(t.TempDir(), "book.db"), int64(28_800)
	if name := os.Getenv(yearBook); name != "" {
		path, n = name, 250_000_000
	}
	fillBook(t.Context(), t, path, n)
	var out, errs bytes.Buffer
	if status := run(t.Context(), []string{"--book", path, "rate", "--json"}, []string{"HOME=" + t.TempDir()}, nil, &out, &errs); status != statusDone {
		t.Fatalf("status %d: %s", status, &errs)
	}
	var got struct {
		Rate struct {
			Value float64 `json:"value"`
			Low   float64 `json:"low95"`
			High  float64 `json:"high95"`
		} `json:"rate_s_per_day"`
		Beats  int64 `json:"beats"`
		Missed int64 `json:"missed"`
	}
	if err := json.Unmarshal(out.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	// The rate to a millionth of the interval in an hour; what the stamps add is in
	// the interval told.
	if r := got.Rate; math.Abs(r.Value-12.5) > 0.1 || r.Low > 12.5 || r.High < 12.5 {
		t.Errorf("rate %g (%g to %g) s/day, want 12.5", r.Value, r.Low, r.High)
	}
	// A beat missed at the very end isn't told.
	if all := got.Beats + got.Missed; all > n || all < n-10 {
		t.Errorf("%d beats heard and missed, want %d", all, n)
	}
}

package book

import (
	"testing"

	"evenbeat/sessions"
)

// A day at eight beats a second, in and out; the floor beside it is the same beats
// copied in memory.
const dayOfBeats = 86400 * 8

func BenchmarkAppendBeats(b *testing.B) {
	bk, ses := benchBook(b)
	beats := sensor(9, dayOfBeats)
	b.ReportAllocs()
	for b.Loop() {
		if err := bk.AppendBeats(b.Context(), ses, beats); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(dayOfBeats)*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}

func BenchmarkReadBeats(b *testing.B) {
	bk, ses := benchBook(b)
	beats := sensor(9, dayOfBeats)
	if err := bk.AppendBeats(b.Context(), ses, beats); err != nil {
		b.Fatal(err)
	}
	b.Run("book", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			n := 0
			for part, err := range bk.Beats(b.Context(), ses) {
				if err != nil {
					b.Fatal(err)
				}
				n += len(part)
			}
			if n != dayOfBeats {
				b.Fatalf("%d beats", n)
			}
		}
		b.ReportMetric(float64(dayOfBeats)*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
	})
	b.Run("floor", func(b *testing.B) {
		part := make([]sessions.Beat, largeChunk)
		for b.Loop() {
			for at := 0; at < len(beats); at += len(part) {
				copy(part, beats[at:])
			}
		}
		b.ReportMetric(float64(dayOfBeats)*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
	})
}

func BenchmarkAddReading(b *testing.B) {
	bk, ses := benchBook(b)
	for b.Loop() {
		if _, err := bk.AddReading(b.Context(), sessions.Reading{SessionID: ses, ClockID: 1, At: noon, Dimension: "bore", Kind: sessions.Inside, Value: 0.06, State: sessions.Kept, Text: "60mm"}); err != nil {
			b.Fatal(err)
		}
	}
}

func benchBook(b *testing.B) (*Book, int64) {
	b.Helper()
	bk, err := Open(b.Context(), b.TempDir()+"/book.db", Options{Create: true})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := bk.Close(); err != nil {
			b.Error(err)
		}
	})
	c, err := bk.AddClock(b.Context(), sessions.Clock{Name: "Hall clock"})
	if err != nil {
		b.Fatal(err)
	}
	ses, err := bk.StartSession(b.Context(), sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Started: noon})
	if err != nil {
		b.Fatal(err)
	}
	return bk, ses
}

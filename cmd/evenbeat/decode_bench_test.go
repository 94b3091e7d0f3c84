package main

import (
	"bufio"
	"bytes"
	"context"
	"strconv"
	"testing"

	"github.com/rs/zerolog"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	beatlines "evenbeat/devices/beat"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// manyLines is how many lines each round of the benchmarks reads: an hour of a
// clock with eight beats a second, and enough for what a session costs once not to
// show.
const manyLines = 28800

func beatText() []byte {
	var text []byte
	for i := range int64(manyLines) {
		text = strconv.AppendInt(text, 1204311+i*125000, 10)
		text = append(text, '\r', '\n')
	}
	return text
}

// pieces delivers text as a busy port does, up to 4 kB at a time.
type pieces []byte

func (p pieces) Run(_ context.Context, deliver func(devices.Chunk) error) error {
	at := int64(0)
	for rest := []byte(p); len(rest) > 0; {
		n := min(len(rest), 4096)
		at += 50e6
		if err := deliver(devices.Chunk{At: devices.Stamp{UTC: at, Mono: at}, Bytes: rest[:n]}); err != nil {
			return err
		}
		rest = rest[n:]
	}
	return nil
}

// countingStore counts what it is given, as a book without a disk.
type countingStore struct {
	beatStore
	n int
}

func (s *countingStore) AppendBeats(_ context.Context, _ int64, b []sessions.Beat) error {
	s.n += len(b)
	return nil
}

// BenchmarkDecodeAndTag is all that is done with a beat between port and disk: the
// line is cut and read, and the recorder tags it to its session. Run it with -cpu 1
// for what one core does.
func BenchmarkDecodeAndTag(b *testing.B) {
	text := beatText()
	b.ReportAllocs()
	for b.Loop() {
		var store countingStore
		rec := &recorder.Timing{Store: &store, Session: sessions.Session{ID: 1}, Log: zerolog.Nop()}
		queue := make(chan []devices.Said, queueLength)
		heard := make(chan error, 1)
		go func() {
			heard <- live.Listen(b.Context(), pieces(text), beatlines.CountLines().New(quantity.NoUnit), into(b.Context(), queue))
			close(queue)
		}()
		if err := rec.Run(b.Context(), queue); err != nil {
			b.Fatal(err)
		}
		if err := <-heard; err != nil || store.n != manyLines {
			b.Fatalf("%v, %d beats, want %d", err, store.n, manyLines)
		}
	}
	b.ReportMetric(manyLines*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}

// BenchmarkDecode is the decoder alone.
func BenchmarkDecode(b *testing.B) {
	text := beatText()
	d := beatlines.CountLines().New(quantity.NoUnit)
	var said []devices.Said
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		err := pieces(text).Run(b.Context(), func(c devices.Chunk) error {
			said = d.Decode(said[:0], c)
			n += len(said)
			return nil
		})
		if err != nil || n != manyLines {
			b.Fatalf("%v, %d beats, want %d", err, n, manyLines)
		}
	}
	b.ReportMetric(manyLines*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}

// BenchmarkLinesAlone is the floor: the same lines cut and read by the standard
// library, and nothing else.
func BenchmarkLinesAlone(b *testing.B) {
	text := beatText()
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		for s := bufio.NewScanner(bytes.NewReader(text)); s.Scan(); n++ {
			if _, err := strconv.ParseUint(s.Text(), 10, 64); err != nil {
				b.Fatal(err)
			}
		}
		if n != manyLines {
			b.Fatalf("%d lines, want %d", n, manyLines)
		}
	}
	b.ReportMetric(manyLines*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}

//go:build unix

package simulate

import (
	"slices"
	"strings"
	"testing"
)

func TestBenchKeepsTheStampsThroughARealLine(t *testing.T) {
	c := newClock(t, nil)
	var want []arrived
	for at, line := range c.Lines(day, day+300) {
		if last := len(want) - 1; last >= 0 && want[last].at == at {
			want[last].bytes += string(line) // held up: arrived together
			continue
		}
		want = append(want, arrived{at, string(line)})
	}
	// More than a piece, and more than a pseudo-terminal takes in one.
	want = append(want, arrived{2 * 86400e9, strings.Repeat("0123456789\r\n", 1000)})
	for seed := range uint64(5) {
		l, far := pair(t)
		b := newBench(t)
		done := consume(t, b, far, seed)
		if err := b.Play(t.Context(), l.Instrument, script(want)); err != nil {
			t.Fatal(err)
		}
		if err := l.Close(); err != nil {
			t.Fatal(err)
		}
		if got := <-done; !slices.Equal(got, want) {
			t.Fatalf("seed %d: %d arrivals, want %d, or they differ", seed, len(got), len(want))
		}
	}
}

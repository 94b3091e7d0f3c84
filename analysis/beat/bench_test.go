package beat

import (
	"io"
	"testing"
)

// memory is a Source over counts already read.
type memory struct {
	counts []uint64
	at     int
}

func (m *memory) Next(counts []uint64, edges []int16) (int, error) {
	if m.at == len(m.counts) {
		return 0, io.EOF
	}
	n := copy(counts, m.counts[m.at:])
	clear(edges[:n])
	m.at += n
	return n, nil
}

// BenchmarkRead numbers and sums a day of a quick clock with five arbors, parsing
// apart (see textfile for that, and for the floor).
func BenchmarkRead(b *testing.B) {
	c := clock{interval: 0.125, beats: 691200, jitter: 100e-6, missed: 0.002, spurious: 0.001, rate: 12.5, offset: 0.0008, walk: 0.5,
		wheels: [][2]float64{{480, 0.5e-3}, {60, 0.2e-3}}}
	ev, _, _ := c.hear()
	counts := make([]uint64, len(ev))
	for i, e := range ev {
		counts[i] = uint64(e.t*1e6) & 0xffffffff
	}
	o := Options{NominalInterval: 0.125, CountRate: 1e6, CountBits: 32,
		Arbors: []Arbor{{Index: 1, Name: "barrel", BeatsPerTurn: 345600}, {Index: 2, Name: "centre", BeatsPerTurn: 28800}, {Index: 3, Name: "third", BeatsPerTurn: 3840}, {Index: 4, Name: "fourth", BeatsPerTurn: 480}, {Index: 5, Name: "escape", BeatsPerTurn: 60}}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(&memory{counts: counts}, o); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(len(counts))*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}

// BenchmarkResult is what a live view asks for each second.
func BenchmarkResult(b *testing.B) {
	c := clock{interval: 0.5, beats: 7200, jitter: 100e-6, walk: 1}
	ev, _, _ := c.hear()
	a, err := NewAnalyser(Options{NominalInterval: 0.5, CountRate: 1e6, Arbors: watched})
	if err != nil {
		b.Fatal(err)
	}
	for _, e := range ev {
		a.AddCount(uint64(e.t*1e6), 0, false)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := a.Result(); err != nil {
			b.Fatal(err)
		}
	}
}

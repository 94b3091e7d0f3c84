package book

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"evenbeat/sessions"
)

// toMicroseconds returns the beat with its stamps in whole microseconds, as the
// book keeps them. UTC follows from the rounded difference of the two clocks.
func toMicroseconds(b sessions.Beat) sessions.Beat {
	mono := floorDiv(b.HostMono, 1000)
	offset := floorDiv(b.HostUTC-b.HostMono+500, 1000)
	b.HostMono, b.HostUTC = mono*1000, (mono+offset)*1000
	return b
}

// sensor makes n beats as a sensor with a free-running microsecond counter of 32
// bits tells them: 80 µs of jitter, 3 ms out of beat, a resonator 0.3 % fast, and
// 0 to 300 µs of arrival delay.
func sensor(seed uint64, n int) []sessions.Beat {
	rng := rand.New(rand.NewPCG(seed, 0))
	beats := make([]sessions.Beat, n)
	for i := range beats {
		// In whole ns from here on: every machine must make the same beats.
		at := int64(i)*1e9 + int64(rng.NormFloat64()*80e3) + int64(i%2)*3e6
		beats[i].Count = uint64(uint32(4e9 + at/1e6*1003 + at%1e6*1003/1e6))
		beats[i].HostMono = at + rng.Int64N(300e3)
		beats[i].HostUTC = 1773489600e9 + beats[i].HostMono + rng.Int64N(60)
		beats[i].Edge = int16(i % 2)
	}
	return beats
}

// Any beats come back as they went in, stamps to the microsecond.
func TestChunkRoundTrip(t *testing.T) {
	stamp := rapid.Int64Range(-1<<60, 1<<60)
	rapid.Check(t, func(t *rapid.T) {
		small := rapid.Bool().Draw(t, "small steps")
		beats := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) sessions.Beat {
			b := sessions.Beat{Count: rapid.Uint64().Draw(t, "count"), HostMono: stamp.Draw(t, "mono"), HostUTC: stamp.Draw(t, "utc"),
				Edge: rapid.Int16().Draw(t, "edge"), Break: rapid.Bool().Draw(t, "break")}
			if small {
				b.Count, b.HostMono, b.HostUTC, b.Edge = b.Count%1000, b.HostMono%1e6, b.HostUTC%1e6, b.Edge%2
			}
			return b
		}), 1, 50).Draw(t, "beats")
		data, err := encodeChunk(nil, beats)
		if err != nil {
			t.Fatal(err)
		}
		got, err := decodeChunk(nil, data)
		if err != nil {
			t.Fatal(err)
		}
		for i := range beats {
			if want := toMicroseconds(beats[i]); got[i] != want {
				t.Fatalf("beat %d: got %+v, want %+v", i, got[i], want)
			}
			if d := got[i].HostMono - beats[i].HostMono; d < -1000 || d > 0 {
				t.Fatalf("beat %d: stamp moved by %d ns", i, d)
			}
			if d := got[i].HostUTC - beats[i].HostUTC; d < -1500 || d > 500 {
				t.Fatalf("beat %d: UTC moved by %d ns", i, d)
			}
		}
	})
}

// inPieces reads chunks one after the other with one reader, some beats at a time.
func inPieces(r *chunkReader, data []byte, most int) ([]sessions.Beat, error) {
	if err := r.open(data); err != nil {
		return nil, err
	}
	beats := make([]sessions.Beat, r.n)
	for i := range beats { // of another chunk
		beats[i] = sessions.Beat{Count: 1, HostMono: 2, HostUTC: 3, Edge: 4, Break: true}
	}
	for at := 0; at < len(beats); {
		n := min(most, len(beats)-at)
		if got := r.read(beats[at : at+n]); got != n {
			return beats, fmt.Errorf("%d beats, want %d", got, n)
		}
		at += n
	}
	if n := r.read(make([]sessions.Beat, 1)); n != 0 {
		return beats, fmt.Errorf("%d beats beyond the last", n)
	}
	return beats, nil
}

// A reader that has read another chunk gives each as a new one does, whatever the
// pieces. With and without counts, edges, breaks and steps of the clock.
func TestChunkInPieces(t *testing.T) {
	var r chunkReader
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 17))
		beats := sensor(seed, 1+rng.IntN(3*columnLen))
		often := []int{1, 3, 50, 1 << 20}
		edges, breaks, sets := often[rng.IntN(4)], often[rng.IntN(4)], often[rng.IntN(4)]
		set := int64(0)
		for i := range beats {
			if seed%3 == 0 {
				beats[i].Count = 0
			}
			if rng.IntN(sets) == 0 {
				set += rng.Int64N(2e9) - 1e9
			}
			beats[i].HostUTC += set
			if rng.IntN(edges) == 0 {
				beats[i].Edge = int16(rng.IntN(3))
			}
			beats[i].Break = rng.IntN(breaks) == 0
			beats[i] = toMicroseconds(beats[i])
		}
		data, err := encodeChunk(nil, beats)
		if err != nil {
			t.Fatal(err)
		}
		for _, most := range []int{1, 7, 256, 5000} {
			if got, err := inPieces(&r, data, most); err != nil || !slices.Equal(got, beats) {
				t.Fatalf("seed %d: %d beats in pieces of %d differ, error %v", seed, len(beats), most, err)
			}
		}
	}
}

// The example of DEVELOPERS.md is what its beats make, and what makes them.
func TestChunkExample(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	_, example, _ := strings.Cut(string(text), "\nbytes                     field\n")
	example, _, _ = strings.Cut(example, "```")
	var data []byte
	for line := range strings.Lines(example) {
		part, err := hex.DecodeString(strings.ReplaceAll(line[:26], " ", ""))
		if err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		data = append(data, part...)
	}
	beats := []sessions.Beat{{Count: 1000000}, {Count: 2003000, HostMono: 1000400e3}, {Count: 3006000, HostMono: 2000100e3}, {Count: 4009000, HostMono: 3000200e3, Break: true}}
	for i := range beats {
		beats[i].HostUTC = 1700000000000000e3 + beats[i].HostMono
	}
	got, err := decodeChunk(nil, data)
	if err != nil || !slices.Equal(got, beats) {
		t.Errorf("the example holds %+v, %v", got, err)
	}
	if made, err := encodeChunk(nil, beats); err != nil || !slices.Equal(made, data) {
		t.Errorf("its beats make % x, %v", made, err)
	}
}

// Values of every width come back, whatever their number.
func TestPackedRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) int64 {
			return rapid.Int64().Draw(t, "value") >> rapid.IntRange(0, 63).Draw(t, "narrowed by")
		}), 1, 3*blockLen).Draw(t, "values")
		data := appendPacked(nil, values)
		if len(data) != packedSize(values) {
			t.Fatalf("%d bytes, told as %d", len(data), packedSize(values))
		}
		c, d := cursor{rest: data}, cursor{rest: data}
		got := make([]int64, len(values))
		c.column(got)
		d.skip(len(values))
		if !slices.Equal(got, values) || c.bad || d.bad || len(c.rest) != 0 || len(d.rest) != 0 {
			t.Fatalf("got %d, want %d; left % x and % x", got, values, c.rest, d.rest)
		}
	})
}

// What a beat costs, in the shapes that sensors tell. The bounds are the jitter's
// own: what takes it twice over, 80 µs of it on counts and 300 µs on arrivals, has 11
// and 10 bits, and the width of a block is a quarter of a bit.
func TestChunkCost(t *testing.T) {
	quiet := sensor(1, 7200)
	for i := range quiet {
		quiet[i].Count = uint64(i) * 1e6
		quiet[i].HostMono = int64(i) * 1e9
		quiet[i].HostUTC = quiet[i].HostMono + 5e17
	}
	uncounted := sensor(1, 7200)
	for i := range uncounted {
		uncounted[i].Count = 0
	}
	for _, c := range []struct {
		name  string
		beats []sessions.Beat
		most  float64
	}{
		{"sensor with counts", sensor(1, 7200), 2.6},
		{"stamps alone", uncounted, 1.4},
		{"no jitter at all", quiet, 0.1},
		{"two beats", sensor(1, 2), 20},
	} {
		data, err := encodeChunk(nil, c.beats)
		if err != nil {
			t.Fatal(err)
		}
		got := float64(len(data)) / float64(len(c.beats))
		t.Logf("%s: %.2f bytes a beat", c.name, got)
		if got > c.most {
			t.Errorf("%s: %.2f bytes a beat, want at most %v", c.name, got, c.most)
		}
	}
}

// A chunk that was tampered with is refused: every byte flipped, every cut.
func TestChunkBroken(t *testing.T) {
	data, err := encodeChunk(nil, sensor(2, 40))
	if err != nil {
		t.Fatal(err)
	}
	for i := range data {
		bad := slices.Clone(data)
		bad[i] ^= 0x10
		if _, err := decodeChunk(nil, bad); err == nil {
			t.Errorf("byte %d flipped: accepted", i)
		}
		if _, err := decodeChunk(nil, data[:i]); err == nil {
			t.Errorf("cut to %d bytes: accepted", i)
		}
	}
	for _, n := range []int{0, maxChunkBeats + 1} {
		if _, err := encodeChunk(nil, make([]sessions.Beat, n)); err == nil {
			t.Errorf("%d beats: accepted", n)
		}
	}
}

// Whatever bytes there are under a right checksum: no panic, no more memory than
// a full chunk, and what is accepted goes round again.
func FuzzDecodeChunk(f *testing.F) {
	another, err := encodeChunk(nil, sensor(5, 300))
	if err != nil {
		f.Fatal(err)
	}
	for _, n := range []int{1, 2, 50} {
		data, err := encodeChunk(nil, sensor(3, n))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data[:len(data)-4])
	}
	f.Add([]byte{1, 0, 0, 0xff, 0xff, 3, 0, 0, 0})
	f.Add([]byte("\x01\x01\x01\x04\xc0\x84\x3d\x00\x00\xf0\xb7\x7a\x00\x00\xa0\x8f\x7a\xf7\x0a\xa0\x06\x04\x04\x03\x02")) // varints
	f.Fuzz(func(t *testing.T, body []byte) {
		data := binary.LittleEndian.AppendUint32(slices.Clone(body), crc32.Checksum(body, castagnoli))
		beats, err := decodeChunk(nil, data)
		if cap(beats) > 2*maxChunkBeats {
			t.Fatalf("%d bytes made room for %d beats", len(data), cap(beats))
		}
		if err != nil {
			return
		}
		var used chunkReader
		if _, err := inPieces(&used, another, 100); err != nil {
			t.Fatal(err)
		}
		if got, err := inPieces(&used, data, 1+len(body)%300); err != nil || !slices.Equal(got, beats) {
			t.Fatalf("in pieces it is another: %v", err)
		}
		for _, b := range beats {
			// Stamps beyond 292 years overflow on the way to nanoseconds.
			if b.HostMono == math.MinInt64 || max(b.HostMono, -b.HostMono, b.HostUTC, -b.HostUTC) > 1<<60 {
				return
			}
		}
		again, err := encodeChunk(nil, beats)
		if err != nil {
			t.Fatal(err)
		}
		got, err := decodeChunk(nil, again)
		if err != nil || !slices.Equal(got, beats) {
			t.Fatalf("accepted, but doesn't go round: %v", err)
		}
	})
}

func BenchmarkEncodeChunk(b *testing.B) {
	beats := sensor(4, largeChunk)
	b.ReportAllocs()
	var data []byte
	for b.Loop() {
		data, _ = encodeChunk(data[:0], beats)
	}
	b.ReportMetric(float64(len(beats))*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}

func BenchmarkDecodeChunk(b *testing.B) {
	data, err := encodeChunk(nil, sensor(4, largeChunk))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	var beats []sessions.Beat
	for b.Loop() {
		beats, _ = decodeChunk(beats, data)
	}
	b.ReportMetric(float64(len(beats))*float64(b.N)/b.Elapsed().Seconds(), "beats/s")
}

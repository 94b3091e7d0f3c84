package beat_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/beat"
	"evenbeat/devices/quantity"
)

func newCountLines() devices.Decoder { return beat.CountLines().New(quantity.NoUnit) }

func decode(d devices.Decoder, s string) []devices.Said {
	return d.Flush(d.Decode(nil, devices.Chunk{Bytes: []byte(s)}))
}

// brief writes what was said in short, for comparing.
func brief(said []devices.Said) []string {
	var out []string
	for _, s := range said {
		if s.Kind == devices.KindFault {
			out = append(out, string(s.Fault)+": "+s.Text)
			continue
		}
		line := "-"
		if s.Beat.HasCount {
			line = strconv.FormatUint(s.Beat.Count, 10)
		}
		if s.Beat.HasEdge {
			line += " edge " + strconv.Itoa(int(s.Beat.Edge))
		}
		if s.Beat.HasSeq {
			line += " seq " + strconv.FormatUint(s.Beat.Seq, 10)
		}
		out = append(out, line)
	}
	return out
}

func TestCountLines(t *testing.T) {
	for _, c := range []struct {
		name, in string
		want     []string
	}{
		{"counts", "1204311\r\n1704298\n0\r", []string{"1204311", "1704298", "0"}},
		{"edge", "12,1\n13,0\n", []string{"12 edge 1", "13 edge 0"}},
		{"edge and sequence", " 12,1,41\n13,0,42 \n", []string{"12 edge 1 seq 41", "13 edge 0 seq 42"}},
		{"sequence alone", "12,,7\n", []string{"12 seq 7"}},
		{"edge by letter", "12,A\n13,b,7\n", []string{"12 edge 65", "13 edge 98 seq 7"}},
		{"blanks", "12 , 1 , 41\n13, 0\n14\t,,42\n", []string{"12 edge 1 seq 41", "13 edge 0", "14 seq 42"}},
		{"64 bits", "18446744073709551615\n18446744073709551616\n", []string{"18446744073709551615", `range: "18446744073709551616"`}},
		{"edge too large", "1,32768\n", []string{`range: "1,32768"`}},
		{"no count", "beat\n-5\n1.5\n,1\n", []string{`garbage: "beat"`, `garbage: "-5"`, `garbage: "1.5"`, `garbage: ",1"`}},
		{"ill ended", "1,\n1,2,\n1,2,3,4\n1,2x\n1 2\n1,on\n1,2,a\n", []string{`garbage: "1,"`, `garbage: "1,2,"`, `garbage: "1,2,3,4"`, `garbage: "1,2x"`, `garbage: "1 2"`, `garbage: "1,on"`, `garbage: "1,2,a"`}},
		{"lines lost", "1,0,7\n2,0,9\n", []string{"1 edge 0 seq 7", "lost: sequence number 9 after 7: the line between them is missing", "2 edge 0 seq 9"}},
		{"anew", "1,0,7\n2,0,0\n", []string{"1 edge 0 seq 7", "reset: sequence number 0 after 7: the numbers went back", "2 edge 0 seq 0"}},
		{"wrapped", "1,0,255\n2,0,0\n", []string{"1 edge 0 seq 255", "2 edge 0 seq 0"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := brief(decode(newCountLines(), c.in)); !slices.Equal(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestCountLinesConversations(t *testing.T) {
	for seed := range uint64(1000) {
		rng := rand.New(rand.NewPCG(seed, 2))
		var sent strings.Builder
		var want []string
		form, seq := rng.IntN(3), rng.Uint64N(1<<40)
		for range 1 + rng.IntN(50) {
			count, edge := rng.Uint64()>>rng.IntN(64), rng.IntN(3)
			end := []string{"\r", "\n", "\r\n"}[rng.IntN(3)]
			switch form {
			case 0:
				fmt.Fprintf(&sent, "%d%s", count, end)
				want = append(want, fmt.Sprint(count))
			case 1:
				fmt.Fprintf(&sent, "%d,%d%s", count, edge, end)
				want = append(want, fmt.Sprintf("%d edge %d", count, edge))
			case 2:
				fmt.Fprintf(&sent, "%d,%d,%d%s", count, edge, seq, end)
				want = append(want, fmt.Sprintf("%d edge %d seq %d", count, edge, seq))
				seq++
			}
		}
		if got := brief(decode(newCountLines(), sent.String())); !slices.Equal(got, want) {
			t.Fatalf("seed %d: %q: got %q, want %q", seed, sent.String(), got, want)
		}
	}
}

// beatLines is a minute of a fast sensor, as it arrives: many lines a chunk.
func beatLines() []byte {
	var b bytes.Buffer
	for i := range 10000 {
		fmt.Fprintf(&b, "%d,%d\r\n", 4000000000+int64(i)*125003, i%2)
	}
	return b.Bytes()
}

func TestCountLinesAllocateNothing(t *testing.T) {
	all := beatLines()
	d := newCountLines()
	said := make([]devices.Said, 0, 10001)
	if n := testing.AllocsPerRun(10, func() { said = d.Decode(said[:0], devices.Chunk{Bytes: all}) }); n != 0 {
		t.Errorf("%v allocations for %d lines, want none", n, len(said))
	}
}

func BenchmarkCountLines(b *testing.B) {
	all := beatLines()
	d := newCountLines()
	said := make([]devices.Said, 0, 10001)
	b.ReportAllocs()
	for b.Loop() {
		// Chunks of 64 bytes, as an adapter hands them over.
		for chunk := range slices.Chunk(all, 64) {
			said = d.Decode(said[:0], devices.Chunk{Bytes: chunk})
		}
	}
	b.ReportMetric(float64(b.N)*10000/b.Elapsed().Seconds(), "beats/s")
}

// BenchmarkFloor is the least that any decoder of such lines must do.
func BenchmarkFloor(b *testing.B) {
	all := beatLines()
	b.ReportAllocs()
	var sum uint64
	for b.Loop() {
		s := bufio.NewScanner(bytes.NewReader(all))
		for s.Scan() {
			count, _, _ := strings.Cut(s.Text(), ",")
			n, err := strconv.ParseUint(count, 10, 64)
			if err != nil {
				b.Fatal(err)
			}
			sum += n
		}
	}
	if sum == 0 {
		b.Fatal("no counts")
	}
	b.ReportMetric(float64(b.N)*10000/b.Elapsed().Seconds(), "beats/s")
}

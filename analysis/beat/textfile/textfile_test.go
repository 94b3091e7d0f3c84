package textfile

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/bits"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"
)

// readAll reads a whole file, size events at a time.
func readAll(r io.Reader, size int) (counts []uint64, edges []int16, err error) {
	d := NewReader(r)
	c, e := make([]uint64, size), make([]int16, size)
	for {
		n, err := d.Next(c, e)
		counts, edges = append(counts, c[:n]...), append(edges, e[:n]...)
		if errors.Is(err, io.EOF) {
			return counts, edges, nil
		}
		if err != nil {
			return counts, edges, err
		}
	}
}

func TestLines(t *testing.T) {
	for _, tc := range []struct {
		name, text string
		counts     []uint64
		edges      []int16
	}{
		{"empty", "", nil, nil},
		{"plain", "1\n22\n333\n", []uint64{1, 22, 333}, []int16{0, 0, 0}},
		{"no last line end", "1\n22", []uint64{1, 22}, []int16{0, 0}},
		{"CR LF", "4294967295\r\n0\r\n", []uint64{4294967295, 0}, []int16{0, 0}},
		{"comments and blanks", "# a clock\n\n 7 \n#\n8\n", []uint64{7, 8}, []int16{0, 0}},
		{"edges", "10,0\n20,1\n30;2\n40\tR\n50 3,17\n", []uint64{10, 20, 30, 40, 50}, []int16{0, 1, 2, 'R', 3}},
		{"the largest", "18446744073709551615\n", []uint64{1<<64 - 1}, []int16{0}},
		{"byte order mark", "\ufeff1204311\r\n1204312\r\n", []uint64{1204311, 1204312}, []int16{0, 0}},
		{"byte order mark and a remark", "\ufeff# a clock\n7\n", []uint64{7}, []int16{0}},
		{"nought", "0\n00\n00000000000000000009\n", []uint64{0, 0, 9}, []int16{0, 0, 0}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			for _, size := range []int{1, 3, 100} {
				counts, edges, err := readAll(iotest.OneByteReader(strings.NewReader(tc.text)), size)
				if err != nil || !slices.Equal(counts, tc.counts) || !slices.Equal(edges, tc.edges) {
					t.Errorf("size %d: got %v %v %v, want %v %v", size, counts, edges, err, tc.counts, tc.edges)
				}
			}
		})
	}
}

// Lines of as many digits as the last are read another way: runs of one length,
// and changes of it, against strconv.
func TestRunsOfDigits(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var text strings.Builder
	var want []uint64
	for range 3000 {
		digits := 1 + rng.IntN(19)
		for range 1 + rng.IntN(4) {
			line := strconv.FormatUint(1+rng.Uint64N(9), 10)
			for range digits - 1 {
				line += strconv.FormatUint(rng.Uint64N(10), 10)
			}
			v, err := strconv.ParseUint(line, 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			want = append(want, v)
			text.WriteString(line + "\n")
		}
	}
	for _, size := range []int{1, 7, 4096} {
		got, edges, err := readAll(strings.NewReader(text.String()), size)
		if err != nil || len(edges) != len(got) || !slices.Equal(got, want) {
			t.Errorf("%d at once: %d counts of %d, error %v, or others than strconv reads", size, len(got), len(want), err)
		}
	}
	for digits := range 18 {
		for at := range digits {
			line := []byte(strings.Repeat("7", digits))
			good := strings.Repeat("1", digits) + "\n"
			for odd := range 256 {
				if strings.IndexByte("0123456789\n\r \t\v\f,;#", byte(odd)) >= 0 {
					continue
				}
				line[at] = byte(odd)
				counts, _, err := readAll(strings.NewReader(good+good+string(line)+"\n"+good+good), 100)
				if bad, ok := errors.AsType[*LineError](err); !ok || bad.Line != 3 || len(counts) != 2 {
					t.Errorf("%q as the third line: %d counts, error %v", line, len(counts), err)
				}
			}
		}
	}
}

func TestBadLines(t *testing.T) {
	for _, tc := range []struct{ text, want string }{
		{"1\n2\nbeat\n4\n", `line 3: "beat": is no count: a whole number is wanted`},
		{"1\n-2\n", `line 2: "-2": is no count: a whole number is wanted`},
		{"1\n\ufeff2\n", "line 2: \"\\ufeff2\": is no count: a whole number is wanted"},
		{"1.5\n", `line 1: "1.5": is no count: digits alone are wanted, without sign or point`},
		{"18446744073709551616\n", `line 1: "18446744073709551616": is larger than any 64-bit count`},
		{"# x\n5,edge\n", `line 2: "5,edge": has no edge or channel in its second column: a number up to 30000 or one letter is wanted`},
		{"1\n" + strings.Repeat("9", 300000), `line 2: "9999999999999999999999999999999999999999": is too long: one count a line is wanted`},
	} {
		_, _, err := readAll(strings.NewReader(tc.text), 10)
		var bad *LineError
		if !errors.As(err, &bad) {
			t.Errorf("%.20q: error %v, want a LineError", tc.text, err)
			continue
		}
		if err.Error() != tc.want {
			t.Errorf("%.20q: got  %s\nwant %s", tc.text, err, tc.want)
		}
	}
}

// The quick way against strconv, for every number of digits, whatever the cut.
func TestAgainstStrconv(t *testing.T) {
	for seed := range uint64(50) {
		rng := rand.New(rand.NewPCG(seed, 0))
		var text bytes.Buffer
		var want []uint64
		for range 500 {
			v := rng.Uint64() >> rng.IntN(64)
			want = append(want, v)
			text.WriteString(strconv.FormatUint(v, 10))
			text.WriteString([]string{"\n", "\r\n"}[rng.IntN(2)])
		}
		got, _, err := readAll(iotest.HalfReader(bytes.NewReader(text.Bytes())), 1+rng.IntN(700))
		if err != nil || !slices.Equal(got, want) {
			t.Fatalf("seed %d: %d counts, error %v; want %d, as strconv wrote them", seed, len(got), err, len(want))
		}
	}
}

func TestReadError(t *testing.T) {
	broken := errors.New("the disk is gone")
	_, _, err := readAll(io.MultiReader(strings.NewReader("1\n2\n"), iotest.ErrReader(broken)), 10)
	if !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
}

// plain is the reading that the quick one must agree with: line by line, strconv.
func plain(text string) (counts []uint64, ok bool) {
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		end := strings.IndexAny(line, " \t,;")
		if end < 0 {
			end = len(line)
		}
		if end > 20 {
			return counts, false
		}
		v, err := strconv.ParseUint(line[:end], 10, 64)
		if err != nil {
			return counts, false
		}
		counts = append(counts, v)
	}
	return counts, true
}

func FuzzReader(f *testing.F) {
	f.Add("1\n2\r\n#3\n4,5\n", uint8(3))
	f.Add("123456789012345678\n12345678\n1234567\n", uint8(1))
	f.Add("1234567890\n1234567891\n1234567892\n1234567893\n1234567894\n", uint8(9))
	f.Fuzz(func(t *testing.T, text string, size uint8) {
		want, ok := plain(text)
		// Many lines are read many bytes at a time, one byte by another way.
		for _, r := range []io.Reader{strings.NewReader(text), iotest.OneByteReader(strings.NewReader(text))} {
			got, edges, err := readAll(r, 1+int(size))
			if len(edges) != len(got) {
				t.Fatalf("%d edges for %d counts", len(edges), len(got))
			}
			if err == nil && (!ok || !slices.Equal(got, want)) {
				t.Errorf("%q: got %v, line by line %v %v", text, got, want, ok)
			}
			if n := min(len(got), len(want)); !slices.Equal(got[:n], want[:n]) {
				t.Errorf("%q: got %v, line by line %v", text, got, want)
			}
		}
	})
}

// sample is a minute or so of a microsecond counter, about 1.1 MB.
func sample() []byte {
	var b bytes.Buffer
	rng := rand.New(rand.NewPCG(1, 1))
	at := uint64(3_000_000_000)
	for range 100_000 {
		at += 124_000 + rng.Uint64N(2000)
		fmt.Fprintf(&b, "%d\n", at&0xffffffff)
	}
	return b.Bytes()
}

func BenchmarkReader(b *testing.B) {
	text := sample()
	counts, edges := make([]uint64, 4096), make([]int16, 4096)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		d := NewReader(bytes.NewReader(text))
		for {
			if _, err := d.Next(counts, edges); err != nil {
				break
			}
		}
	}
	b.ReportMetric(100_000*float64(b.N)/b.Elapsed().Seconds(), "lines/s")
}

// BenchmarkFloor is the least that a reading can cost: digits eight at a time,
// summed, and nothing else; with each line's length found, and with the last one's
// taken for it.
func BenchmarkFloor(b *testing.B) {
	text := append(sample(), make([]byte, 24)...)
	for _, f := range []struct {
		name string
		sum  func([]byte) uint64
	}{{"length found", sumLines}, {"length of the last", sumSame}} {
		b.Run(f.name, func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			b.ReportAllocs()
			sum := uint64(0)
			for b.Loop() {
				sum += f.sum(text)
			}
			if sum == 0 {
				b.Error("nothing was summed")
			}
			b.ReportMetric(100_000*float64(b.N)/b.Elapsed().Seconds(), "lines/s")
		})
	}
}

// number turns the digits before the first other byte of eight, lowest first,
// into their value. n is how many there are.
func number(word uint64) (v uint64, n int) {
	word ^= zeros
	n = bits.TrailingZeros64(odd(word)) >> 3
	if n == 0 {
		return 0, 0
	}
	return value(word << (uint(64-8*n) & 63)), n
}

var tens = [9]uint64{1, 10, 100, 1000, 10000, 100000, 1000000, 10000000, 100000000}

func sumLines(text []byte) (sum uint64) {
	for i := 0; i < len(text)-24; {
		v, n := number(binary.LittleEndian.Uint64(text[i:]))
		if n == 8 {
			w, m := number(binary.LittleEndian.Uint64(text[i+8:]))
			v, n = v*tens[m]+w, 8+m
		}
		sum += v
		i += n + 1
	}
	return sum
}

func sumSame(text []byte) (sum uint64) {
	digits := 10
	for i := 0; i < len(text)-24; {
		if text[i+digits] == '\n' && digits >= 8 {
			sum += value((binary.LittleEndian.Uint64(text[i:])^zeros)<<(8*(16-digits)))*100000000 +
				value(binary.LittleEndian.Uint64(text[i+digits-8:])^zeros)
			i += digits + 1
			continue
		}
		digits = bytes.IndexByte(text[i:], '\n')
		if digits < 8 {
			v, _ := number(binary.LittleEndian.Uint64(text[i:]))
			sum += v
			i += digits + 1
		}
	}
	return sum
}

// The floor is honest only if it sums what is there.
func TestFloor(t *testing.T) {
	text := append(sample(), make([]byte, 24)...)
	counts, _, err := readAll(bytes.NewReader(text[:len(text)-24]), 4096)
	if err != nil {
		t.Fatal(err)
	}
	want := uint64(0)
	for _, c := range counts {
		want += c
	}
	if got, same := sumLines(text), sumSame(text); got != want || same != want {
		t.Errorf("summed %d and %d, want %d", got, same, want)
	}
}

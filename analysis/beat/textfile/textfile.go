// Package textfile reads a beat file: one event a line, the device's count as a
// decimal number. The edge or channel may follow after a comma, semicolon, tab or blank.
// Lines that start with # and empty lines are skipped, and so is a byte order mark at the
// start of the file. Lines end in LF or CR LF; the last
// one may lack its end.
package textfile

import (
	"bytes"
	"fmt"
	"io"
	"math"
)

const (
	bufferLen = 64 << 10
	maxLine   = 4096
	maxDigits = 20 // of 2^64
)

// LineError says which line can't be read and why.
type LineError struct {
	Line int64
	Text string
	Why  string
}

func (e *LineError) Error() string {
	return fmt.Sprintf("line %d: %.40q: %s", e.Line, e.Text, e.Why)
}

// Reader reads a beat file. Next fills the slices that it is given.
type Reader struct {
	r          io.Reader
	buf        []byte
	start, end int
	line       int64
	digits     int // of the last line that had nothing else
	err        error
}

// NewReader returns a Reader on r.
func NewReader(r io.Reader) *Reader {
	return &Reader{r: r, buf: make([]byte, bufferLen)}
}

// Next reads up to len(counts) events and returns how many. edges is as long as
// counts, or longer. At the end of the file n is 0 and the error io.EOF; a bad
// line is a *LineError, and the events before it are returned first.
func (d *Reader) Next(counts []uint64, edges []int16) (n int, err error) {
	for {
		got, used, bad := d.parse(d.buf[d.start:d.end], counts[n:], edges[n:])
		n += got
		d.start += used
		atEnd := d.err != nil && d.start == d.end
		switch {
		case n == len(counts) || n > 0 && (bad != "" || atEnd):
			return n, nil // the next call meets a bad line or the end again
		case bad != "":
			return 0, d.lineError(bad)
		case atEnd:
			return 0, d.err
		case d.err != nil && d.buf[d.end-1] == '\n': // what is left is no line
			return n, d.lineError("is too long")
		}
		if err := d.fill(); err != nil {
			return n, err
		}
	}
}

// parse reads whole lines of text until counts is full. used is the bytes done
// with; bad says what is wrong with the line that follows them.
func (d *Reader) parse(text []byte, counts []uint64, edges []int16) (n, used int, bad string) {
	for n < len(counts) {
		if k, size := same(text[used:], d.digits, counts[n:]); k > 0 {
			clear(edges[n : n+k])
			n += k
			d.line += int64(k)
			used += size
			continue
		}
		end := bytes.IndexByte(text[used:], '\n')
		if end < 0 {
			return n, used, ""
		}
		v, edge, skip, why := d.any(text[used : used+end])
		if why != "" {
			return n, used, why
		}
		if !skip {
			counts[n], edges[n] = v, edge
			n++
		}
		d.line++
		used += end + 1
	}
	return n, used, ""
}

// fill moves the unfinished line to the front and reads on. At the end of the file it
// ends the last line.
func (d *Reader) fill() error {
	if d.end-d.start > maxLine {
		d.line++
		return &LineError{Line: d.line, Text: string(d.buf[d.start : d.start+40]), Why: "is too long: one count a line is wanted"}
	}
	d.end = copy(d.buf, d.buf[d.start:d.end])
	d.start = 0
	if d.err != nil {
		d.buf[d.end] = '\n'
		d.end++
		return nil
	}
	for tries := 0; ; tries++ {
		n, err := d.r.Read(d.buf[d.end : len(d.buf)-16])
		d.end += n
		if d.err = err; n > 0 || err != nil {
			return nil
		}
		if tries == 100 {
			d.err = io.ErrNoProgress
			return nil
		}
	}
}

func (d *Reader) lineError(why string) error {
	text := d.buf[d.start:d.end]
	if i := bytes.IndexByte(text, '\n'); i >= 0 {
		text = text[:i]
	}
	return &LineError{Line: d.line + 1, Text: string(bytes.TrimRight(text, "\r")), Why: why}
}

// any reads any line.
func (d *Reader) any(line []byte) (v uint64, edge int16, skip bool, why string) {
	size := len(line)
	if d.line == 0 {
		line = bytes.TrimPrefix(line, []byte("\ufeff"))
	}
	line = bytes.TrimSpace(line)
	if len(line) == 0 || line[0] == '#' {
		return 0, 0, true, ""
	}
	i := 0
	for i < len(line) && line[i] >= '0' && line[i] <= '9' {
		c := uint64(line[i] - '0')
		if i >= maxDigits || v > (math.MaxUint64-c)/10 {
			return 0, 0, false, "is larger than any 64-bit count"
		}
		v = v*10 + c
		i++
	}
	if i == 0 {
		return 0, 0, false, "is no count: a whole number is wanted"
	}
	if i == size {
		d.digits = i
	}
	if i == len(line) {
		return v, 0, false, ""
	}
	rest := bytes.TrimLeft(line[i:], " \t,;")
	if len(rest) == len(line[i:]) {
		return 0, 0, false, "is no count: digits alone are wanted, without sign or point"
	}
	if j := bytes.IndexAny(rest, " \t,;"); j >= 0 {
		rest = rest[:j]
	}
	edge, ok := edgeOf(rest)
	if !ok {
		return 0, 0, false, "has no edge or channel in its second column: a number up to 30000 or one letter is wanted"
	}
	return v, edge, false, ""
}

// edgeOf reads an edge or channel: a number, or one letter that names it as well; nothing
// is 0.
func edgeOf(text []byte) (edge int16, ok bool) {
	e := 0
	for _, c := range text {
		if c < '0' || c > '9' || e > 3000 {
			return int16(text[0]), len(text) == 1
		}
		e = e*10 + int(c-'0')
	}
	return int16(e), true
}

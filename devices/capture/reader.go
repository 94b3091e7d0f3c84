package capture

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenbeat/devices"
)

// maxLine is the longest line read, in bytes: room to spare for a chunk of 4096 bytes,
// each written as \x00.
const maxLine = 1 << 16

// maxSeconds bounds offsets to what an int64 of nanoseconds holds: 31 years.
const maxSeconds = 1e9

// Reader reads a capture.
type Reader struct {
	s      *bufio.Scanner
	line   int
	last   int64
	offset int64 // UTC less monotonic time
	clock  bool  // a clock line was read
}

// NewReader returns a reader of captures.
func NewReader(r io.Reader) *Reader {
	s := bufio.NewScanner(r)
	s.Buffer(nil, maxLine)
	return &Reader{s: s}
}

// Next returns the next chunk, with monotonic stamps that count from the first. At the
// end the error is io.EOF. Any other error names the line and what is wrong there.
func (r *Reader) Next() (devices.Chunk, error) {
	for r.s.Scan() {
		r.line++
		line := strings.TrimSpace(r.s.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		c, is, err := r.parse(line)
		if err != nil {
			return devices.Chunk{}, fmt.Errorf("line %d of the capture: %w", r.line, err)
		}
		if is {
			return c, nil
		}
	}
	if err := r.s.Err(); err != nil {
		return devices.Chunk{}, fmt.Errorf("line %d of the capture: %w", r.line+1, err)
	}
	return devices.Chunk{}, io.EOF
}

// parse reads a line. is is true for a chunk, false for a clock line.
func (r *Reader) parse(line string) (c devices.Chunk, is bool, err error) {
	clock := line[0] == '@'
	stamp, rest, ok := strings.Cut(strings.TrimPrefix(line, "@"), " ")
	if !ok {
		return c, false, fmt.Errorf(`%.40q: write a time and what came, such as +1.5 "63.5mm\r\n"`, line)
	}
	mono, err := parseSeconds(stamp)
	if err != nil {
		return c, false, err
	}
	if mono < r.last {
		return c, false, fmt.Errorf("time %s goes back: lines must be in order", stamp)
	}
	r.last = mono
	rest = strings.TrimSpace(rest)
	if clock {
		t, err := time.Parse(time.RFC3339Nano, rest)
		if err != nil {
			return c, false, fmt.Errorf("%.40q is no time: write it like 2026-03-01T12:00:00Z", rest)
		}
		if y := t.Year(); y < 1678 || y > 2261 { // what nanoseconds in an int64 hold
			return c, false, fmt.Errorf("year %d: must be from 1678 to 2261", y)
		}
		r.offset, r.clock = t.UnixNano()-mono, true
		return c, false, nil
	}
	if !r.clock {
		return c, false, fmt.Errorf("no clock line before it: write @+0 and the time of the start, such as 2026-03-01T12:00:00Z")
	}
	c, err = parseBody(rest)
	c.At = devices.Stamp{UTC: mono + r.offset, Mono: mono}
	return c, true, err
}

func parseBody(s string) (c devices.Chunk, err error) {
	switch {
	case strings.HasPrefix(s, "!"):
		kind, text, _ := strings.Cut(s[1:], " ")
		c.Fault = devices.FaultKind(strings.ReplaceAll(kind, "-", " "))
		if !slices.Contains(devices.FaultKinds(), c.Fault) {
			return c, fmt.Errorf("fault %.40q is not known", kind)
		}
		if c.Text, err = strconv.Unquote(strings.TrimSpace(text)); err != nil {
			return c, fmt.Errorf("fault %s: its text isn't in quotes", kind)
		}
	case strings.HasPrefix(s, "^"):
		changed, on, _ := strings.Cut(s[1:], " ")
		if c.Changed, err = parsePins(changed); err != nil {
			return c, err
		}
		if c.Pins, err = parsePins(strings.TrimSpace(on)); err != nil {
			return c, err
		}
		if c.Changed == 0 {
			return c, fmt.Errorf("%.40q names no control line that changed", s)
		}
	default:
		text, err := strconv.Unquote(s)
		if err != nil {
			return c, fmt.Errorf(`%.40s: bytes must be in quotes, such as "63.5mm\r\n"`, s)
		}
		if text != "" {
			c.Bytes = []byte(text)
		}
	}
	return c, nil
}

func parsePins(s string) (p devices.Pins, err error) {
	if s == "-" {
		return 0, nil
	}
	for name := range strings.SplitSeq(s, ",") {
		found := false
		for _, n := range pins() {
			if n.name == name {
				p, found = p|n.pin, true
			}
		}
		if !found {
			return 0, fmt.Errorf("control line %.20q is not known: use cts, dsr, dcd, ri, or - for none", name)
		}
	}
	return p, nil
}

// parseSeconds reads +1.204311 into nanoseconds, exactly.
func parseSeconds(s string) (int64, error) {
	whole, decimals, _ := strings.Cut(strings.TrimPrefix(s, "+"), ".")
	bad := fmt.Errorf("%.40q is no time since the start: write it like +1.204311", s)
	if !strings.HasPrefix(s, "+") || len(decimals) > 9 {
		return 0, bad
	}
	sec, err := strconv.ParseUint(whole, 10, 63)
	if err != nil || sec > maxSeconds {
		return 0, bad
	}
	ns, err := strconv.ParseUint((decimals + "000000000")[:9], 10, 63)
	if err != nil {
		return 0, bad
	}
	return int64(sec)*1e9 + int64(ns), nil
}

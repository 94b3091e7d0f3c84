package beat

import (
	"bytes"
	"math"
	"strconv"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// CountLines describes a line a beat: a free-running decimal count, and optionally an
// edge or channel, and a sequence number, each behind a comma:
//
//	count [ "," edge [ "," sequence ] ]
//
// "1204311,1,42" is count 1,204,311 on edge 1, the 42nd line. The edge is a number, or one
// letter that names it as well; it may be empty. A megahertz in 32 bits is what small microcontrollers count by. Common
// practice, no source.
//
// A gap in the sequence numbers is a fault before the beat behind it. Numbers that
// start anew at 0 after 255, 65,535 or 4,294,967,295 have no gap.
func CountLines() devices.Format {
	return devices.Format{
		Name: "count-lines", Title: "beats as lines with a count", Instrument: "beat",
		New:  newCountLines,
		Baud: 115200, CountRate: 1e6, CountBits: 32,
		Recognition: devices.Recognition{
			Rank: devices.RankBare, Frames: 3, WeighText: foreseenCounts, Need: devices.NeedNumbers,
		},
	}
}

type countLines struct {
	*lines.Decoder
	seq    uint64
	hasSeq bool
}

func newCountLines(quantity.Unit) devices.Decoder {
	d := &countLines{}
	d.Decoder = lines.NewDecoder(d.line)
	return d
}

func (d *countLines) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	if c.Fault != "" && c.Fault != devices.FaultClockStep {
		d.hasSeq = false // a break has its own fault, whatever lines it took
	}
	return d.Decoder.Decode(dst, c)
}

func (d *countLines) Flush(dst []devices.Said) []devices.Said {
	d.hasSeq = false
	return d.Decoder.Flush(dst)
}

func (d *countLines) line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	b := devices.Beat{HasCount: true}
	var why devices.FaultKind
	text := lines.Trim(line)
	b.Count, text, why = number(text)
	if why == "" && len(text) > 0 {
		b.Edge, b.HasEdge, text, why = edge(text)
	}
	if why == "" && len(text) > 0 {
		b.Seq, b.HasSeq, text, why = sequence(text)
	}
	if why == "" && len(text) > 0 {
		why = devices.FaultGarbage
	}
	if why != "" {
		return append(dst, lines.Fault(at, why, line, ""))
	}
	dst = d.gap(dst, b, at)
	return append(dst, devices.Said{Kind: devices.KindBeat, At: at, Beat: b})
}

// gap appends a fault if sequence numbers between the last beat and b are missing, or go
// back.
func (d *countLines) gap(dst []devices.Said, b devices.Beat, at devices.Stamp) []devices.Said {
	last, had := d.seq, d.hasSeq
	d.seq, d.hasSeq = b.Seq, b.HasSeq
	if !had || !b.HasSeq || b.Seq == last+1 {
		return dst
	}
	if b.Seq == 0 && (last == math.MaxUint8 || last == math.MaxUint16 || last == math.MaxUint32) {
		return dst
	}
	f := devices.Said{Kind: devices.KindFault, At: at, Fault: devices.FaultLost}
	from := "sequence number " + strconv.FormatUint(b.Seq, 10) + " after " + strconv.FormatUint(last, 10)
	if b.Seq > last {
		f.Text = from + ": lines between them are missing"
		if b.Seq-last == 2 {
			f.Text = from + ": the line between them is missing"
		}
	} else {
		f.Fault, f.Text = devices.FaultReset, from+": the numbers went back"
	}
	return append(dst, f)
}

// number reads the digits at the start of b and returns what is behind them.
func number(b []byte) (n uint64, rest []byte, why devices.FaultKind) {
	i := 0
	for ; i < len(b); i++ {
		digit := uint64(b[i] - '0')
		if digit > 9 {
			break
		}
		if n > (math.MaxUint64-digit)/10 {
			return 0, nil, devices.FaultRange
		}
		n = n*10 + digit
	}
	if i == 0 {
		return 0, nil, devices.FaultGarbage
	}
	return n, b[i:], ""
}

// edge reads ",1", ",A" or a bare comma before a second one.
func edge(b []byte) (n int16, has bool, rest []byte, why devices.FaultKind) {
	b = behindComma(b)
	switch {
	case len(b) == 0:
		return 0, false, nil, devices.FaultGarbage
	case b[0] == ',':
		return 0, false, b, ""
	case lines.IsLetter(b[0]):
		return int16(b[0]), true, b[1:], ""
	}
	u, rest, why := number(b)
	if why == "" && u > math.MaxInt16 {
		why = devices.FaultRange
	}
	if why != "" {
		return 0, false, nil, why
	}
	return int16(u), true, rest, ""
}

// sequence reads ",42".
func sequence(b []byte) (n uint64, has bool, rest []byte, why devices.FaultKind) {
	n, rest, why = number(behindComma(b))
	return n, why == "", rest, why
}

// behindComma returns what stands behind the comma at the start of b, without the blanks
// around the comma; nothing where there is none.
func behindComma(b []byte) []byte {
	b = bytes.TrimLeft(b, " \t")
	if len(b) == 0 || b[0] != ',' {
		return nil
	}
	return bytes.TrimLeft(b[1:], " \t")
}

package beat

import (
	"evenbeat/devices"
	"evenbeat/devices/lines"
)

// IntervalLines decodes a line a beat: the interval since the last beat in ticks
// of the sensor, as a decimal number. "499871" is half a second of a sensor that
// counts microseconds. Common practice, no source.
//
// A beat's count is the sum of the intervals so far, so that it reads like the
// count of CountLines, of 64 bits. A line that is lost or damaged takes its
// interval with it: the fault then tells that the sum doesn't join. A beat carries
// the stamp of its line's first byte. Between calls it holds one line. The zero
// value is ready.
type IntervalLines struct {
	framer lines.Framer
	sum    uint64
}

// maxInterval is the longest interval taken, in ticks: three days of a sensor that
// counts nanoseconds. Without a bound, one damaged line could wrap the sum.
const maxInterval = 1 << 48

// Decode appends to dst the beats and faults that c completes.
func (d *IntervalLines) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	return d.framer.Decode(dst, c, d.line)
}

// Flush appends an unfinished line to dst, as a fault.
func (d *IntervalLines) Flush(dst []devices.Said) []devices.Said { return d.framer.Flush(dst) }

func (d *IntervalLines) line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	n, rest, why := number(lines.Trim(line))
	switch {
	case why == "" && len(rest) > 0:
		why = devices.FaultGarbage
	case why == "" && n > maxInterval:
		why = devices.FaultRange
	}
	if why != "" {
		return append(dst, lines.Fault(at, why, line, ""))
	}
	d.sum += n
	return append(dst, devices.Said{Kind: devices.KindBeat, At: at, Beat: devices.Beat{Count: d.sum, HasCount: true}})
}

package beat

import (
	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// IntervalLines describes a line a beat with the interval since the last beat, in
// ticks of the sensor, as a decimal number. "499871" is half a second of a sensor that
// counts microseconds. Common practice, no source.
//
// A beat's count is the sum of the intervals so far, so that it reads like the count
// of count-lines, of 64 bits. A line that is lost or damaged takes its interval with
// it: its fault then says that the sum has a gap there.
func IntervalLines() devices.Format {
	return devices.Format{
		Name: "interval-lines", Title: "beats as lines with an interval", Instrument: "beat",
		New:  func(quantity.Unit) devices.Decoder { return lines.NewDecoder(new(intervals).line) },
		Baud: 115200, CountRate: 1e6, CountBits: 64,
		Recognition: devices.Recognition{
			Rank: devices.RankBare, Frames: 3, WeighText: foreseenIntervals, Need: devices.NeedNumbers,
		},
	}
}

type intervals struct{ sum uint64 }

// maxInterval is the longest interval taken, in ticks: three days of a sensor that
// counts nanoseconds. Without a bound, one damaged line could wrap the sum.
const maxInterval = 1 << 48

func (d *intervals) line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
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

package beat

import (
	"math"
	"slices"

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
			Rank: devices.RankBare, Frames: 3, Fits: steady, WeighText: foreseenIntervals, Need: devices.NeedNumbers,
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

// steady reports whether intervals are alike, and don't rise one after another as
// three or more counts do. The first may have been cut.
func steady(said []devices.Said) bool {
	var each []uint64
	for i := 1; i < len(said); i++ { // the decoder sums the intervals up
		each = append(each, said[i].Beat.Count-said[i-1].Beat.Count)
	}
	if slices.Min(each) == 0 || slices.Max(each)/2 > slices.Min(each) {
		return false
	}
	return len(each) < 3 || !slices.IsSorted(each) || each[0] == each[len(each)-1]
}

// foreseenIntervals weighs how well the two intervals before foretell each one.
func foreseenIntervals(said []devices.Said) float64 {
	bits, sum := 0.0, uint64(0)
	var each []float64
	for _, s := range said { // the decoder sums the intervals up
		each = append(each, float64(s.Beat.Count-sum))
		sum = s.Beat.Count
	}
	for i := 1; i < len(each); i++ {
		off := math.Abs(each[i] - each[i-1])
		if i > 1 {
			off = min(off, math.Abs(each[i]-each[i-2]))
		}
		bits += foreseen(each[i], off, 2)
	}
	return bits
}

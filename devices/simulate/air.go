package simulate

import (
	"iter"
	"strconv"

	"evenbeat/devices"
)

// AppendAir appends a sample as a line of air-text, to the tenth of a degree and
// hectopascal and the whole per cent that a cheap sensor shows; what was not
// measured is left out: "21.4C 1013.2hPa 45%\r\n".
func AppendAir(dst []byte, a devices.Air) []byte {
	start := len(dst)
	part := func(has bool, value float64, decimals int, unit string) {
		if !has {
			return
		}
		if len(dst) > start {
			dst = append(dst, ' ')
		}
		dst = append(strconv.AppendFloat(dst, value, 'f', decimals, 64), unit...)
	}
	part(a.HasTemperature, a.TemperatureC, 1, "C")
	part(a.HasPressure, a.PressureHPa, 1, "hPa")
	part(a.HasHumidity, a.HumidityPct, 0, "%")
	return append(dst, '\r', '\n')
}

// AirLines yields arrival (ns since the start) and bytes of a sensor that tells
// the air about the clock every so many seconds, for Bench or Serve. The bytes
// are good until the next is asked for. Without a positive every it yields none.
func (c *Clock) AirLines(from, to, every float64) iter.Seq2[int64, []byte] {
	return func(yield func(int64, []byte) bool) {
		if !(every > 0) {
			return
		}
		var line []byte
		// Counted, not summed: a sum of many small steps drifts.
		for i := 0.0; from+i*every < to; i++ {
			at := from + i*every
			line = AppendAir(line[:0], c.Air(at))
			if !yield(int64(at*1e9), line) {
				return
			}
		}
	}
}

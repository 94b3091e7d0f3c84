package beat

import (
	"math"

	"evenbeat/devices"
)

// widths are the wraps that a counter may have.
func widths() [3]float64 { return [3]float64{1 << 16, 1 << 24, 1 << 32} }

// foreseenCounts weighs how well the counts before foretell each count: by the last
// step, and, less likely, by the one before that (a tick against a tock), by two
// steps (a beat was missed), and by each of these across a wrap.
func foreseenCounts(said []devices.Said) float64 {
	bits := 0.0
	for i := 2; i < len(said); i++ {
		now, last := float64(said[i].Beat.Count), float64(said[i-1].Beat.Count)
		step := last - float64(said[i-2].Beat.Count)
		steps := []float64{step, 2 * step}
		if i > 2 {
			steps = append(steps, float64(said[i-2].Beat.Count)-float64(said[i-3].Beat.Count))
		}
		off, rarely := math.Abs(last+step-now), math.Inf(1)
		for _, s := range steps {
			if s <= 0 {
				continue
			}
			rarely = min(rarely, math.Abs(last+s-now))
			for _, w := range widths() {
				rarely = min(rarely, math.Abs(last+s-w-now))
			}
		}
		bits += max(foreseen(now, off, 2), foreseen(now, rarely, 24))
	}
	return bits
}

// foreseen returns the evidence, in bits, of a number that is off by so much from the
// nearest of some forecasts. To noise all numbers of the same length are alike. A
// counter's number lies about a forecast every other time, near or far by its
// logarithm. That is divided among as many forecasts as shares says.
func foreseen(number, off, shares float64) float64 {
	length := math.Pow(10, math.Floor(math.Log10(max(1, number)))+1)
	near := length / (2 * (off + 1) * math.Log(length) * shares)
	return math.Log2((1 + near) / 2)
}

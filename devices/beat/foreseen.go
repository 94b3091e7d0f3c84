package beat

import (
	"math"
	"slices"

	"evenbeat/devices"
)

// step is what a line claims to have passed since the line before, in ticks, and what
// passed by the host's stamps, in seconds: NaN where they don't tell.
type step struct{ ticks, host float64 }

const (
	// lateS is by how much more one line may be late than another, in seconds: an
	// adapter holds bytes back for 16 ms (common practice, no source), a radio link
	// for longer.
	lateS = 0.05
	// fastest is the quickest count that is taken, in ticks a second: nanoseconds, by
	// a resonator that is off.
	fastest = 1.1e9
)

// forecast is a step that may come, and one in how many does.
type forecast struct {
	step
	shares float64
}

// foretell returns the steps that may follow. Most often the last comes again, or the
// one before it, as with a tick and a tock. Rarer are a missed beat, which makes one
// step of two, and an echo, which makes two of one. The stamps, at the rate of the last
// step or of all so far, foretell any.
func foretell(last, before, all step, host float64) [9]forecast {
	byStamps := func(s step) step { return step{s.ticks / s.host * host, host} }
	return [...]forecast{
		{last, 2}, {before, 4},
		{step{2 * last.ticks, 2 * last.host}, 28}, {step{last.ticks / 2, last.host / 2}, 28},
		{step{2 * before.ticks, 2 * before.host}, 28},
		{step{last.ticks + before.ticks, last.host + before.host}, 28},
		{step{before.ticks - last.ticks, before.host - last.host}, 28},
		{byStamps(last), 28}, {byStamps(all), 28},
	}
}

// weigh returns the evidence, in bits, that lines with such numbers tell how time
// passed: how well the steps before, and the stamps, foretell each step. A forecast
// that the stamps contradict counts for nothing. Steps count modulo the given number.
func weigh(numbers []uint64, steps []step, modulus float64) float64 {
	bits := 0.0
	var before, all step
	for i := 1; i < len(steps); i++ {
		now, last := steps[i], steps[i-1]
		if last.host > 0 {
			all.ticks, all.host = all.ticks+last.ticks, all.host+last.host
		}
		best := -1.0 // bits: the number is noise
		for _, f := range foretell(last, before, all, now.host) {
			if !(f.ticks > 0) || math.IsInf(f.ticks, 0) || math.Abs(f.host-now.host) > lateS {
				continue
			}
			off := math.Abs(math.Remainder(now.ticks-f.ticks, modulus))
			best = max(best, foreseen(float64(numbers[i]), off, f.shares))
		}
		bits, before = bits+best, last
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

// foreseenCounts weighs lines as those of a counter. It may wrap, but if it goes back
// a little more than once in eight times, it is none.
func foreseenCounts(said []devices.Said) float64 {
	mask := uint64(math.MaxUint64)
	for _, width := range [...]int{32, 24, 16} {
		if !slices.ContainsFunc(said, func(s devices.Said) bool { return s.Beat.Count>>width != 0 }) {
			mask = 1<<width - 1
		}
	}
	var numbers []uint64
	var steps []step
	back := 0
	for i := 1; i < len(said); i++ {
		ticks := (said[i].Beat.Count - said[i-1].Beat.Count) & mask
		if ticks > mask-mask/16 {
			back++
		}
		numbers = append(numbers, said[i].Beat.Count)
		steps = append(steps, step{float64(ticks), since(said, i)})
	}
	if 8*back > len(steps) {
		return math.Inf(-1)
	}
	return weigh(numbers, steps, float64(mask)+1)
}

// foreseenIntervals weighs lines as intervals. They are none if all rise, as three or
// more counts do, or if they are longer than the time in which they arrived.
func foreseenIntervals(said []devices.Said) float64 {
	numbers := []uint64{said[0].Beat.Count} // may have been cut, and its step began unheard
	steps := []step{{float64(said[0].Beat.Count), math.NaN()}}
	host, rises := 0.0, true
	for i := 1; i < len(said); i++ {
		n := said[i].Beat.Count - said[i-1].Beat.Count // the decoder sums the intervals up
		rises = rises && (i == 1 || n > numbers[i-1])
		numbers, steps = append(numbers, n), append(steps, step{float64(n), since(said, i)})
		host += steps[i].host
	}
	ticks := float64(said[len(said)-1].Beat.Count - said[0].Beat.Count)
	if len(said) > 3 && rises || ticks > fastest*(host+1) {
		return math.Inf(-1)
	}
	return weigh(numbers, steps, math.Inf(1))
}

// since returns the time between a frame and the one before it by the host's stamps,
// in seconds.
func since(said []devices.Said, i int) float64 {
	return float64(said[i].At.Mono-said[i-1].At.Mono) * 1e-9
}

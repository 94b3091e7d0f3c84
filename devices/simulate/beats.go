package simulate

import (
	"cmp"
	"iter"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
)

// Event is one thing the sensor heard, with its truth.
type Event struct {
	Beat     int64   // number of the beat since the start; of an echo or a knock, that of the beat before it
	Spurious bool    // an echo or a knock
	At       float64 // true time of the event, s since the start
	Arrival  int64   // when the host hears of it, ns since the start
	Count    uint64  // the sensor's counter, wrapped
	Edge     int16   // with a gate: 1 as the flag blocks the light, 0 as it clears
	HasEdge  bool
}

// heard is an event before the sensor has counted it.
type heard struct {
	Event
	delay float64
}

// Beats yields what the sensor heard from one time to another, in order. What happens
// at a beat depends on its number alone, so overlapping spans give the same events.
// Their arrivals are the same too, unless a beat from before the span delays them.
//
//	event = x_k − (D/4)·(−1)^k + Σ A·sin(2πk/P + φ) + jitter
//
// x_k is when the dial has gone k nominal intervals, D the difference of the two
// half-periods at that time, P the beats to one turn of each wheel. A counter that is p
// ppm fast shows floor((start + t·(1 + p·10⁻⁶))·rate), wrapped.
func (c *Clock) Beats(from, to float64) iter.Seq[Event] {
	return func(yield func(Event) bool) {
		interval := c.cfg.Interval()
		n := newNumbered(c.cfg.Seed)
		from, to := max(0, from), min(to, c.cfg.Span)
		if !(to > from) {
			return
		}
		// Two more beats on each side, since jitter and being out of beat can carry
		// events across the ends.
		first := max(0, int64(c.dialGone(from)/interval)-2)
		last := int64(c.dialGone(to)/interval) + 2
		end := c.dial[len(c.dial)-1]
		var wait []heard
		var busy int64
		for k := first; k <= last && float64(k)*interval < end; k++ {
			x := c.whenGone(float64(k) * interval)
			// No later event lies more than an interval before its x_k.
			ready := before(wait, x-interval)
			if !c.emit(wait[:ready], from, to, &busy, yield) {
				return
			}
			wait = slices.Delete(wait, 0, ready)
			wait = c.around(wait, n, k, x)
			slices.SortStableFunc(wait, func(a, b heard) int { return cmp.Compare(a.At, b.At) })
		}
		c.emit(wait, from, to, &busy, yield)
	}
}

// before counts how many of the sorted events lie before t.
func before(wait []heard, t float64) int {
	i := 0
	for i < len(wait) && wait[i].At < t {
		i++
	}
	return i
}

// around appends what is heard at beat k, whose even time is x. It always makes the
// same number of draws, so that changing one setting leaves the rest as they were.
func (c *Clock) around(dst []heard, n *numbered, k int64, x float64) []heard {
	g := n.at(streamBeat, k)
	missed := g.Float64() < c.cfg.Missed
	at := x + c.shift(k, x) + c.cfg.Jitter*g.NormFloat64()
	echo, echoAfter := g.Float64() < c.cfg.Echo, 0.003+0.027*g.Float64()
	knock, knockAfter := g.Float64() < c.cfg.Knock, g.Float64()
	delays := [3]float64{c.delay(g), c.delay(g), c.delay(g)}
	if c.cfg.Flicker > 0 {
		at += c.cfg.Flicker * n.flicker(k)
	}
	if !missed {
		dst = c.edges(dst, Event{Beat: k, At: at}, delays[0])
		if echo {
			at += min(echoAfter, 0.4*c.cfg.Interval())
			dst = c.edges(dst, Event{Beat: k, Spurious: true, At: at}, delays[1])
		}
	}
	if knock {
		dst = c.edges(dst, Event{Beat: k, Spurious: true, At: x + knockAfter*c.cfg.Interval()}, delays[2])
	}
	return dst
}

// shift returns by how much the clock itself moves beat k from its even time.
func (c *Clock) shift(k int64, x float64) float64 {
	s := -c.TickTock(x) / 4
	if k%2 != 0 {
		s = -s
	}
	for _, w := range c.cfg.Wheels {
		// Whole turns are removed before the sine, since k/P grows without bound.
		turns := float64(k) / w.Beats
		s += w.Amplitude * math.Sin(2*math.Pi*(turns-math.Floor(turns))+w.Phase)
	}
	return s
}

func (c *Clock) delay(g *rand.Rand) float64 {
	return min(c.cfg.Delay.Least+c.cfg.Delay.Mean*g.ExpFloat64(), c.cfg.Delay.Most)
}

// edges appends the event, or the two edges of a light gate around it. The flag passes
// at the greatest speed of the swing, A·(π/T)·distance (sinusoidal motion).
func (c *Clock) edges(dst []heard, e Event, delay float64) []heard {
	if c.cfg.Gate.Flag == 0 {
		return append(dst, heard{e, delay})
	}
	a := c.Amplitude(e.At)
	if !(a > 0) { // just across the end of a going stretch
		a = c.cfg.Amplitude
	}
	half := c.cfg.Gate.Flag / (a * math.Pi / c.cfg.Interval() * c.cfg.Gate.Distance) / 2
	in, out := e, e
	in.At, in.Edge, in.HasEdge = e.At-half, 1, true
	out.At, out.Edge, out.HasEdge = e.At+half, 0, true
	return append(dst, heard{in, delay}, heard{out, delay})
}

// emit yields the events of the span, counted and with their arrivals in order, since
// bytes can't overtake each other. It reports whether more is wanted.
func (c *Clock) emit(ready []heard, from, to float64, busy *int64, yield func(Event) bool) bool {
	for _, h := range ready {
		if h.At < from || h.At >= to {
			continue
		}
		e := h.Event
		e.Count = c.count(e.At)
		*busy = max(*busy, int64(math.Ceil((e.At+h.delay)*1e9)))
		e.Arrival = *busy
		if !yield(e) {
			return false
		}
	}
	return true
}

// count returns the sensor's counter at t.
func (c *Clock) count(t float64) uint64 {
	start := c.countStart
	for _, r := range c.cfg.Resets {
		if r <= t {
			start = -r * (1 + c.cfg.ResonatorPPM*1e-6)
		}
	}
	n := uint64(math.Floor(max(0, start+t*(1+c.cfg.ResonatorPPM*1e-6)) * c.cfg.CountRate))
	if c.cfg.CountBits < 64 {
		n &= 1<<c.cfg.CountBits - 1
	}
	return n
}

// AppendLine appends the event as a line of count-lines: the count, and with a
// gate its edge: "4012345\r\n", "4012345,1\r\n".
func (e Event) AppendLine(dst []byte) []byte {
	dst = strconv.AppendUint(dst, e.Count, 10)
	if e.HasEdge {
		dst = append(dst, ',')
		dst = strconv.AppendInt(dst, int64(e.Edge), 10)
	}
	return append(dst, '\r', '\n')
}

// Lines yields arrival (ns since the start) and bytes of each event, for Bench.
// The bytes are good until the next is asked for.
func (c *Clock) Lines(from, to float64) iter.Seq2[int64, []byte] {
	return func(yield func(int64, []byte) bool) {
		var line []byte
		for e := range c.Beats(from, to) {
			line = e.AppendLine(line[:0])
			if !yield(e.Arrival, line) {
				return
			}
		}
	}
}

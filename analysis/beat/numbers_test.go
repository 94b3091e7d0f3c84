package beat

import (
	"math"
	"slices"
	"testing"

	"evenbeat/analysis/beat/numbering"
)

// numbered is what an event was taken for: a beat of a segment, by its number within that.
type numbered struct {
	segment, number int64
	off             bool // too late or too early to be summed
}

// number runs events through a Numberer and returns what the beats were taken for, by the
// time of the event in microseconds.
func number(c clock, nominal float64) (byTime map[int64]numbered, tally numbering.Tally) {
	ev, _, _ := c.hear()
	byTime = map[int64]numbered{}
	var at []int64 // of the beats numbered, in order
	n := numbering.New(numbering.Options{
		TickS: 1e-6, IntervalS: nominal,
		Beat: func(_, ticks int64, _ bool) { at = append(at, ticks) },
		Next: func(s *numbering.Stretch) *numbering.Stretch {
			for i, x := range s.Times[:s.N] {
				if x == x {
					byTime[at[0]] = numbered{int64(s.Number), s.First + int64(i), slices.Contains(s.Off, i)}
					at = at[1:]
				}
			}
			return s
		},
	})
	for _, e := range ev {
		n.Add(int64(math.Floor(e.t*1e6)), 0)
	}
	n.Close()
	return byTime, n.Tally()
}

// slips counts, segment by segment, the beats whose number lies off the truth by
// something else than most of their segment: 0 unless the count slipped unmarked.
// strangers are spurious events that were given a number; but those taken for late beats
// only where the beat itself was heard.
func slips(c clock, byTime map[int64]numbered) (slipped, strangers, right int) {
	ev, _, _ := c.hear()
	heard := map[int64]bool{}
	for _, e := range ev {
		if got, ok := byTime[int64(math.Floor(e.t*1e6))]; ok && !got.off {
			heard[got.segment<<32+got.number] = true
		}
	}
	offsets := map[int64]map[int64]int{}
	where := map[int64]map[int]bool{}
	for _, e := range ev {
		got, ok := byTime[int64(math.Floor(e.t*1e6))]
		if !ok {
			continue
		}
		if e.k < 0 {
			if !got.off || heard[got.segment<<32+got.number] {
				strangers++
			}
			continue
		}
		if offsets[got.segment] == nil {
			offsets[got.segment], where[got.segment] = map[int64]int{}, map[int]bool{}
		}
		offsets[got.segment][int64(e.k)-got.number]++
		where[got.segment][e.s] = true
	}
	for seg, o := range offsets {
		total, most := 0, 0
		for _, n := range o {
			total += n
			most = max(most, n)
		}
		right += most
		slipped += total - most
		if len(where[seg]) > 1 {
			slipped += 1000 // a segment that runs on over a stop
		}
	}
	return slipped, strangers, right
}

// One beat in ten missed, one event in twenty spurious, a scatter of up to a tenth
// of the interval, a rate up to 1000 s/day off, and stops: in 1000 seeds no number
// may slip within a segment. The truth is the simulation's own.
func TestNumbersNeverSlip(t *testing.T) {
	seeds := 1000
	if testing.Short() {
		seeds = 100
	}
	for seed := range uint64(seeds) {
		c := clock{interval: []float64{1, 0.5, 0.36, 0.2, 0.125}[seed%5], missed: 0.1, spurious: 0.05, beats: 1500, seed: seed}
		c.jitter = c.interval * []float64{0.0005, 0.01, 0.04, 0.1}[seed/5%4]
		c.rate = float64(int(seed*37%2001)) - 1000
		c.offset = c.interval * 0.1 * float64(seed%3)
		stops := 0
		if seed%2 == 1 {
			stops = 2
			c.stops = [][2]float64{{500.3 * c.interval, (10 + float64(seed%50)*1.37) * c.interval}, {900 * c.interval, 33.5 * c.interval}}
		}
		nominal := c.interval
		if seed%7 == 0 {
			nominal = 0
		}
		byTime, tally := number(c, nominal)
		slipped, strangers, right := slips(c, byTime)
		// At a scatter of 10 % one beat in some 200,000 comes nearer to where its
		// neighbour is due; it is a misplaced beat, the count goes on.
		allow := 0
		if c.jitter > 0.05*c.interval {
			allow = 3
		}
		if slipped > allow {
			t.Errorf("seed %d: %d numbers off within their segment, want at most %d (scatter %g, rate %g, apart %g)", seed, slipped, allow, c.jitter/c.interval, c.rate, c.offset)
		}
		if got := float64(right) / (0.9 * 1500); got < 0.93 {
			t.Errorf("seed %d: %.1f %% of the beats heard were numbered (scatter %g, apart %g)", seed, 100*got, c.jitter/c.interval, c.offset)
		}
		if int(tally.Segments) > 1+stops+1 {
			t.Errorf("seed %d: %d segments for %d stops", seed, tally.Segments, stops)
		}
		// Where beats scatter little, what is no beat can be told from one.
		if c.jitter < 0.001*c.interval && strangers > 3 {
			t.Errorf("seed %d: %d spurious events were taken for beats", seed, strangers)
		}
	}
}

// Package phase lays numbered beats out as time errors against an even clock, and sums
// them: into means of neighbouring beats, whatever the length of the run, and into
// whole turns of the escape wheel.
package phase

import (
	"math"

	"evenbeat/analysis/beat/numbering"
)

// Series is the time errors of neighbouring beats of one segment.
type Series struct {
	Fresh   bool    // begins a segment: it doesn't go on from the series before
	Segment int     // number of the segment, from 1
	AfterS  float64 // seconds from the run's first event to the segment's origin
	First   int64   // number of the first beat within its segment
	// Errors are by how much each beat came later than an even clock's, in seconds by
	// the count; NaN for one that was missed. Off are the places of beats that came too
	// late or too early to be summed, Missed those of them and of the ones missed, in order.
	Errors      []float64
	Missed, Off []int
}

// LeaveOut leaves the beats that came too late or too early out of what is summed.
func (s *Series) LeaveOut() {
	for _, i := range s.Off {
		s.Errors[i] = math.NaN()
	}
}

// EvenClock is the clock that time errors are against. Beats of even number come
// OffsetS late and odd ones early, so that a beat missed doesn't show as a jump of the
// mean.
type EvenClock struct {
	IntervalS, OffsetS float64
}

// Series returns the time errors of a stretch of beats. They take the place of its
// times.
func (c EvenClock) Series(s *numbering.Stretch) Series {
	x, k, offset := s.Times[:s.N], s.First, c.OffsetS
	if k&1 != 0 {
		offset = -offset
	}
	number := float64(k)
	for i := range x {
		x[i] = x[i] - (number+float64(i))*c.IntervalS - offset
		offset = -offset
	}
	return Series{Fresh: s.Fresh, Segment: s.Number, AfterS: s.AfterS, First: s.First, Errors: s.Times[:s.N], Missed: s.Missed, Off: s.Off}
}

// Whole returns the end of the run of beats heard that begins at place i, at most
// to, and the number of misses before it; missed is that before i.
func (s *Series) Whole(i, to, missed int) (end, before int) {
	for missed < len(s.Missed) && s.Missed[missed] < i {
		missed++
	}
	if missed < len(s.Missed) && s.Missed[missed] < to {
		return s.Missed[missed], missed
	}
	return to, missed
}

// BySide returns the sum of every second value from the first, and of the others.
func BySide(x []float64) (first, second float64) {
	var a, b float64
	for len(x) >= 4 {
		first += x[0]
		second += x[1]
		a += x[2]
		b += x[3]
		x = x[4:]
	}
	first, second = first+a, second+b
	for i, v := range x {
		if i&1 == 0 {
			first += v
		} else {
			second += v
		}
	}
	return first, second
}

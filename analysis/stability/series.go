package stability

import (
	"fmt"
	"math"
	"strings"

	"evenbeat/devices/quantity"
)

// Kind says what the data are.
type Kind uint8

// The kinds of data.
const (
	Phase     Kind = iota // time error at each point, in seconds
	Frequency             // fractional frequency between points, without unit
)

// ParseKind reads phase or frequency.
func ParseKind(text string) (Kind, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "phase":
		return Phase, nil
	case "frequency":
		return Frequency, nil
	}
	return Phase, quantity.BadInput("data", fmt.Sprintf("%q", text), "write phase or frequency")
}

// series is a phase series, made from phase or frequency, with its gaps.
//
// A gap in phase is a missing point, and forbids the terms that use that point. A gap in
// frequency is an interval without a figure. The phase goes on after it by an unknown
// step, so that it forbids every term that spans it.
type series struct {
	x      []float64 // phase in units of tau0; 0 at a gap
	spans  bool      // gaps are of frequency
	gaps   int64
	ends   int64   // gaps of phase at either end, which x leaves out
	before []int64 // number of gaps before index i; nil without gaps
}

// maxData bounds the data, so that no square of them overflows.
const maxData = 1e150

const tooLarge = "too large: give finite seconds or fractions, or nan for a gap"

// newSeries checks the data and turns them into phase. It subtracts the straight line
// through both ends, which no deviation depends on, so that a large steady rate costs no
// digits.
func newSeries(data []float64, kind Kind, interval float64) (*series, error) {
	if err := checkInterval(interval); err != nil {
		return nil, err
	}
	for i, v := range data {
		if math.IsInf(v, 0) || math.Abs(v) > maxData {
			return nil, quantity.BadInput(fmt.Sprintf("point %d", i+1), v, tooLarge)
		}
	}
	s := &series{}
	if kind == Phase {
		s.fromPhase(data, interval)
	} else {
		s.fromFrequency(data)
	}
	return s, nil
}

func (s *series) fromPhase(data []float64, interval float64) {
	// Nothing lies beyond gaps at either end.
	all := len(data)
	for len(data) > 0 && math.IsNaN(data[0]) {
		data = data[1:]
	}
	for len(data) > 0 && math.IsNaN(data[len(data)-1]) {
		data = data[:len(data)-1]
	}
	s.ends = int64(all - len(data))
	s.x = make([]float64, len(data))
	if len(data) < 2 {
		return
	}
	first := data[0]
	slope := (data[len(data)-1] - first) / float64(len(data)-1)
	for i, v := range data {
		if math.IsNaN(v) {
			s.note(i, len(data))
			continue
		}
		s.x[i] = (v - first - slope*float64(i)) / interval
	}
	s.count()
}

func (s *series) fromFrequency(data []float64) {
	sum, n := 0.0, 0
	for _, v := range data {
		if !math.IsNaN(v) {
			n++
			sum += (v - sum) / float64(n) // a running mean
		}
	}
	s.spans = true
	s.x = make([]float64, len(data)+1)
	for i, v := range data {
		if math.IsNaN(v) {
			s.note(i, len(s.x))
			s.x[i+1] = s.x[i]
			continue
		}
		s.x[i+1] = s.x[i] + (v - sum)
	}
	s.count()
}

// note marks index i; count turns the marks into running counts.
func (s *series) note(i, n int) {
	if s.before == nil {
		s.before = make([]int64, n+1)
	}
	s.before[i+1] = 1
	s.gaps++
}

func (s *series) count() {
	for i := 1; i < len(s.before); i++ {
		s.before[i] += s.before[i-1]
	}
}

// whole reports whether the indices from a to b hold no gap: points a to b of
// phase, the intervals between them of frequency.
func (s *series) whole(a, b int) bool {
	if s.before == nil {
		return true
	}
	if !s.spans {
		b++
	}
	return s.before[b] == s.before[a]
}

// usable reports whether a term of the points i, i+m … i+order·m touches no gap.
func (s *series) usable(i, m, order int) bool {
	if s.before == nil {
		return true
	}
	if s.spans {
		return s.whole(i, i+order*m)
	}
	for k := range order + 1 {
		if !s.whole(i+k*m, i+k*m) {
			return false
		}
	}
	return true
}

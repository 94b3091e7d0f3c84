package numbering

import (
	"math"
	"testing"
)

// A light gate's two edges close together are one beat, by the first of them. Edges that
// name the side of the swing are a beat each. One edge alone is the beat.
func TestWhichEdgesAreBeats(t *testing.T) {
	for _, tc := range []struct {
		name  string
		edges [2]int16
		gap   int64 // from the first edge to the second; the interval is 1000
		one   bool
		beat  int16
	}{
		{"gate", [2]int16{1, 0}, 40, true, 1},
		{"gate that begins with the other edge", [2]int16{0, 1}, 960, true, 1},
		{"both sides", [2]int16{1, 2}, 1000, false, 1},
	} {
		for _, nominal := range []float64{0, 1000} {
			e := edgeFilter{nominal: nominal}
			beats := 0
			at, period := int64(0), int64(1000)
			if !tc.one {
				period = 2000
			}
			for range 100 {
				e.take(at, tc.edges[0], &beats)
				e.take(at+tc.gap, tc.edges[1], &beats)
				at += period
			}
			want := 200
			if tc.one {
				want = 100
			}
			if e.one != tc.one || e.one && e.edge != tc.beat || beats != want {
				t.Errorf("%s, nominal %g: one %v, edge %d, %d beats; want %v, %d, %d", tc.name, nominal, e.one, e.edge, beats, tc.one, tc.beat, want)
			}
		}
	}
}

// take gives an event to the filter, as the Numberer does.
func (e *edgeFilter) take(at int64, edge int16, beats *int) {
	if !e.decided {
		e.add(at, edge, func(int64) { *beats++ })
	} else if e.use(at, edge) {
		*beats++
	}
}

// A loop that learns a tenth of each error comes to expect a tooth that is always late
// in part: just behind it, and again a turn later.
func TestExpectLearnsWhatRepeats(t *testing.T) {
	errors := make([]float64, 30)
	errors[10], errors[20] = 1e-3, math.NaN()
	due := Expect(errors)
	if due[11] < 0.5*phaseGain*1e-3 || due[11] > 1.5*phaseGain*1e-3 {
		t.Errorf("behind a tooth 1 ms late a beat is expected %g s late, want about a tenth", due[11])
	}
	if math.Abs(due[9]) > 0.2*due[11] {
		t.Errorf("before the tooth a beat is expected %g s late, want hardly any of it", due[9])
	}
}

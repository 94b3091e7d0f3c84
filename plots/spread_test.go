package plots

import (
	"math"
	"slices"
	"testing"

	"evenbeat/analysis/beat"
)

// The middle half is that of the regular sample, the ends are those of all beats, and a
// column without beats or with none that is a number isn't there.
func TestSpreads(t *testing.T) {
	var trace []beat.TracePoint
	for i := range 9 { // 0 to 8 ms in the first of three columns
		trace = append(trace, beat.TracePoint{TimeS: float64(i), ResidualS: float64(i) * 1e-3})
	}
	trace = append(trace, beat.TracePoint{TimeS: 5, ResidualS: 0.040, Far: true}, beat.TracePoint{TimeS: 30, ResidualS: -0.001, Far: true},
		beat.TracePoint{TimeS: 15, ResidualS: math.NaN()})
	want := []spread{{5, 0, 2, 6, 40}, {25, -1, -1, -1, -1}}
	got := spreads(trace, 30, 3)
	if len(got) != len(want) {
		t.Fatalf("got %v, want %v", got, want)
	}
	for i, w := range want {
		g := got[i]
		for j, d := range []float64{g.at - w.at, g.low - w.low, g.lower - w.lower, g.upper - w.upper, g.high - w.high} {
			if math.Abs(d) > 1e-9 {
				t.Errorf("column %d, figure %d: got %v, want %v", i, j, g, w)
			}
		}
	}
}

// A beat that is late by far is seen in the longest run.
func TestLateBeatIsSeen(t *testing.T) {
	f := Findings{Rate: beatExample()}
	before := mustDraw(t, "beat", f)
	f.Rate.Trace[200].ResidualS, f.Rate.Trace[200].Far = 0.08, true
	after := texts(t, mustSVG(t, mustDraw(t, "beat", f)))
	if drawn := texts(t, mustSVG(t, before)); len(drawn) == 0 || !slices.Contains(after, "80") || slices.Contains(drawn, "80") {
		t.Errorf("the axis doesn't reach the late beat: %q", after)
	}
}

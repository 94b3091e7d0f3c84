package beat

import (
	"math"
	"testing"
)

// TestEvenCountsKeepTheirResolution holds the beat error of beats that fall on whole
// counts, so that nothing scatters, against the resolution of a count: an interval
// far within one count would claim what the counter can't show.
func TestEvenCountsKeepTheirResolution(t *testing.T) {
	a, err := NewAnalyser(Options{NominalInterval: 0.5, CountRate: 1e6, CountBits: 32})
	if err != nil {
		t.Fatal(err)
	}
	for k := range uint64(200) {
		a.AddCount(k*500_000, 0, false)
	}
	a.Close()
	r, err := a.Result()
	if err != nil {
		t.Fatal(err)
	}
	want := 4 * 1e-6 / math.Sqrt(24)
	if got := r.TickTock.U; got < want*0.999 || got > want*1.001 {
		t.Errorf("tick less tock: u = %g s, want %g s", got, want)
	}
}

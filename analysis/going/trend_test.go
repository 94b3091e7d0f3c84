package going

import (
	"math"
	"testing"
)

// A trend that no pendulum clock has makes the clock's wandering larger, and so the interval
// wider. A balance changes its rate much faster with the air, so that its trend is left as
// the record alone tells it.
func TestTrendBeyondClocks(t *testing.T) {
	m := made{days: 7, every: 1, rate: 8, phase: 0.1, wander: 0.02, perK: -0.5, u: 0.3}
	far := 0
	for seed := range uint64(40) {
		in := m.clock(seed).in
		pendulum := analyse(t, in).Trend
		in.Balance = true
		balance := analyse(t, in).Trend
		if math.Abs(balance.V) < 0.4 {
			continue
		}
		far++
		if pendulum.Half95() < 1.05*balance.Half95() {
			t.Errorf("seed %d: trend of a pendulum %v, of a balance %v: want the first wider", seed, pendulum.Signed("s/day/day"), balance.Signed("s/day/day"))
		}
	}
	if far == 0 {
		t.Error("no record shows a trend of 0.4 s/day/day")
	}
}

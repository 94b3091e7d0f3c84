package simulate

import (
	"math"
	"testing"
)

// agm is the arithmetic-geometric mean: T/T₀ = 1/agm(1, cos(a/2)), a way to the
// period of a pendulum that uses no elliptic integral.
func agm(a, b float64) float64 {
	for range 8 { // doubles the digits each time
		a, b = (a+b)/2, math.Sqrt(a*b)
	}
	return a
}

func TestCircularLoss(t *testing.T) {
	// Lost rate in s/day, exact; printed to four decimals (three from 15°).
	for _, c := range []struct{ deg, want, half float64 }{
		{0.5, 0.4112, 5e-5}, {1, 1.6449, 5e-5}, {1.5, 3.7011, 5e-5}, {2, 6.5797, 5e-5},
		{2.5, 10.2807, 5e-5}, {3, 14.8042, 5e-5}, {4, 26.3183, 5e-5}, {5, 41.1217, 5e-5},
		{6, 59.2142, 5e-5}, {10, 164.4674, 5e-5}, {15, 369.979, 5e-4}, {30, 1478.383, 5e-4},
	} {
		got := CircularLoss(Degrees(c.deg))
		if math.Abs(got-c.want) > c.half {
			t.Errorf("%g°: got %.5f, want %g s/day", c.deg, got, c.want)
		}
		other := 86400 * (1 - agm(1, math.Cos(Degrees(c.deg)/2)))
		// A period ratio near 1 keeps 16 digits, times a day: 2e-11 s/day.
		if math.Abs(got-other) > 1e-10 {
			t.Errorf("%g°: got %.12f, by the arithmetic-geometric mean %.12f", c.deg, got, other)
		}
	}
	// Beckett, Rudimentary Treatise, 8th ed., p. 34: 2° about 6, from 2° to 2½°
	// just under 4, 10 minutes more than 2° nearly 1.
	loss := func(deg float64) float64 { return CircularLoss(Degrees(deg)) }
	if d := loss(2.5) - loss(2); d <= 3.5 || d >= 4 {
		t.Errorf("2° to 2½°: %g s/day, printed just under 4", d)
	}
	if got := CircularLoss(math.Pi); !finite(got) {
		t.Errorf("upside down: got %v, want a number", got)
	}
}

func TestRodCoefficient(t *testing.T) {
	// Expansions per 1000 °F: Beckett p. 53. His own sums, pp. 52 and 60: over 30 °F
	// iron loses 1 min in a week, brass in 5 days, wood in 3 weeks.
	for _, c := range []struct {
		rod               string
		per1000F, days    float64
		printed, farthest float64 // s; he rounds to a minute
	}{
		{"iron", 0.0070, 7, 60, 4}, {"brass", 0.0100, 5, 60, 5}, {"deal", 0.0023, 21, 60, 3}, {"deal", 0.0023, 7, 20, 1},
	} {
		lost := -RodCoefficient(c.per1000F/1000) * 30 * c.days
		if math.Abs(lost-c.printed) > c.farthest {
			t.Errorf("%s: %g s in %g days, printed %g", c.rod, lost, c.days, c.printed)
		}
	}
	// Goodrich, The Modern Clock: steel rods of 10.34 to 11.62·10⁻⁶ per K.
	for alpha, want := range map[float64]float64{10.34e-6: -0.447, 11.5e-6: -0.497, 11.62e-6: -0.502} {
		if got := RodCoefficient(alpha); math.Abs(got-want) > 0.0005 {
			t.Errorf("α %g: got %.4f, want %g s/day/K", alpha, got, want)
		}
	}
}

func TestHalfPeriodDifference(t *testing.T) {
	// (4T/π)·asin(ε/A) worked by hand, to 0.01 ms.
	for _, c := range []struct{ interval, offset, amplitude, wantMS float64 }{
		{1, 0.1, 2, 63.69}, {0.5, 0.2, 3, 42.47}, {0.4, 0.1, 4, 12.73}, {1, -0.1, 2, -63.69}, {1, 0.1, 0, 0},
	} {
		got := 1e3 * HalfPeriodDifference(c.interval, Degrees(c.offset), Degrees(c.amplitude))
		if math.Abs(got-c.wantMS) > 0.005 {
			t.Errorf("T %g s, ε %g°, A %g°: got %.3f ms, want %.2f", c.interval, c.offset, c.amplitude, got, c.wantMS)
		}
	}
	// The same from the motion itself: time between passing +ε outward and inward
	// of A·sin(πt/T), found by bisection, less the time on the other side.
	crossing := func(lo, hi float64) float64 {
		for range 60 {
			mid := (lo + hi) / 2
			if (2*math.Sin(math.Pi*mid) < 0.1) == (2*math.Sin(math.Pi*lo) < 0.1) {
				lo = mid
			} else {
				hi = mid
			}
		}
		return lo
	}
	out, in := crossing(0, 0.5), crossing(0.5, 1)
	above, below := in-out, 2-(in-out)
	if got := HalfPeriodDifference(1, 0.1, 2); math.Abs(got-(below-above)) > 1e-12 {
		t.Errorf("by the motion: got %g, want %g s", got, below-above)
	}
}

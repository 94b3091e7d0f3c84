package going

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// segmentFigure is the rate of a segment, and that at which the clock went from its
// beginning to its end as stated.
func segmentFigure(name string, n int) figure {
	return figure{name: name, unit: "s/day", of: func(_ made, tr truth, r Result) (*quantity.Value, float64) {
		if n >= len(r.Segments) {
			return nil, 0
		}
		s := &r.Segments[n]
		hour := func(at time.Time) int { return int(math.Round(at.Sub(begin).Hours())) }
		from, to := hour(s.From), hour(s.To)
		return &s.Rate, (tr.at[to] - tr.at[from]) / float64(to-from) * 24
	}}
}

// TestCoverageOfSegments: a clock is moved halfway between two checks. The rates before
// and after it are those of the stretches stated.
func TestCoverageOfSegments(t *testing.T) {
	for _, days := range []int{7, 14, 28, 90} {
		t.Run(fmt.Sprintf("%d days", days), func(t *testing.T) {
			m := made{days: days, every: 1, rate: 8, phase: 0.3, wander: 0.05, u: 0.1}
			moved := func(in *In) {
				in.Events = append(in.Events, sessions.Event{At: day(float64(days/2) + 0.5), Kind: sessions.EventMoved})
			}
			count(t, "moved between checks", m, moved, 40, segmentFigure("rate before", 0), segmentFigure("rate since", 1))
		})
	}
}

// TestSegmentIsMeasured: a segment is told from its first check to its last, and the
// sentence names the act and the check.
func TestSegmentIsMeasured(t *testing.T) {
	in := In{Events: []sessions.Event{{At: day(3.5), Kind: sessions.EventMoved}}}
	for d := range 8 {
		in.Checks = append(in.Checks, check(float64(d), float64(d), 0.3))
	}
	s := analyse(t, in).Segments
	if len(s) != 2 || !s[0].From.Equal(day(0)) || !s[0].To.Equal(day(3)) || s[0].After != "" || !s[0].AfterAt.IsZero() {
		t.Errorf("before: %+v", s)
	}
	if len(s) == 2 && (!s[1].From.Equal(day(4)) || !s[1].To.Equal(day(7)) || s[1].After != "moved" || !s[1].AfterAt.Equal(day(3.5))) {
		t.Errorf("after: %+v", s[1])
	}
	const want = "Since it was moved on 5 Mar 2026 21:00 the clock gains 1.00 ± 0.28 s/day, by the checks from 6 Mar 2026 09:00 on."
	if got := analyse(t, in).Reasons[0]; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// TestRateNeedsASpan: checks that lie seconds apart, or at one time, give neither rate nor
// forecast, and neither do those since an act.
func TestRateNeedsASpan(t *testing.T) {
	const second = 1.0 / 86400
	for _, c := range []struct {
		name   string
		checks []sessions.Check
		say    string
	}{
		{"23 s", []sessions.Check{check(0, 5, 0.3), check(23*second, 4.6, 0.3)}, "Between the checks lie only 23 s of going: no rate can be told from less than 3 h."},
		{"one time", []sessions.Check{check(0, 5, 0.3), check(0, 4, 0.3)}, "All checks are of one time"},
	} {
		r := analyse(t, In{Checks: c.checks})
		if r.MeanRate != nil || r.RateNow != nil || r.Forecast != nil || r.ErrorNow == nil || !strings.HasPrefix(r.Reasons[0], c.say) || !contains(r.Next, "in about a day") {
			t.Errorf("%s: %+v", c.name, r)
		}
	}
	r := analyse(t, In{Checks: []sessions.Check{check(0, 0, 0.3), check(0.13, 1, 0.3)}})
	if r.MeanRate == nil {
		t.Errorf("3.1 hours: no rate: %q", r.Reasons)
	}
	r = analyse(t, In{Checks: []sessions.Check{check(0, 0, 0.3), check(1, 8, 0.3), check(2, 16, 0.3), check(2+20*second, 16, 0.3)},
		Events: []sessions.Event{{At: day(2 - 20*second), Kind: sessions.EventAdjusted}}})
	if r.RateNow != nil || r.Forecast != nil || !strings.HasPrefix(r.Reasons[0], "How the clock goes since it was adjusted on 4 Mar 2026 08:59 isn't known yet") || !contains(r.Next, "before anything is turned") {
		t.Errorf("20 s since the nut was turned: %+v", r)
	}
}

// TestChecksAtOneTime: they are one check, the more certain for it, unless they differ by
// more than their uncertainties.
func TestChecksAtOneTime(t *testing.T) {
	r := analyse(t, In{Checks: []sessions.Check{check(0, 0, 0.3), check(1, 8, 0.3), check(1, 9, 0.6)}})
	// By hand: weights 4 and 1 of 5, so 8.2 and 0.3·0.6/√0.45 = 0.268, times 1/√0.45 = 1.491.
	if v := *r.ErrorNow; math.Abs(v.V-8.2) > 1e-9 || math.Abs(v.U-0.4) > 1e-9 || math.Abs(r.MeanRate.V-8.2) > 1e-9 || r.Checks != 3 {
		t.Errorf("error now %+v, mean rate %+v, %d checks: want 8.2, u 0.4, and 3", v, *r.MeanRate, r.Checks)
	}
	r = analyse(t, In{Checks: []sessions.Check{check(0, 0, 0.3), check(1, 8, 0.3), check(1, 8.1, 0.3)}})
	if v := *r.ErrorNow; math.Abs(v.V-8.05) > 1e-9 || math.Abs(v.U-0.3/math.Sqrt2) > 1e-9 {
		t.Errorf("error now %+v, want 8.05, u 0.212", v)
	}
}

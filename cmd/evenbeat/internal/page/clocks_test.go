package page

import (
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
)

// A card says what the clock does now and by when it must be wound, and what is lacking.
// Where a spring is spoken of, its cautions stand beside it.
func TestCard(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	at := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	rate := quantity.Value{V: -4.2, U: 0.1}
	f := plots.Findings{
		Record: sessions.Record{
			Clock:  sessions.Clock{ID: 3, Name: "Hall", Zone: "UTC"},
			Checks: []sessions.Check{{At: at}},
			Events: []sessions.Event{{At: at, Kind: sessions.EventWound}},
		},
		Going: &going.Result{ErrorNow: &quantity.Value{V: 12, U: 0.2}, RateNow: &rate, Next: []string{"turn the nut", "wait"}},
	}
	text := func(f plots.Findings) string {
		out, err := set("clocks.html", "clock", b.sumUp(f))
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	holds := func(text string, want ...string) {
		t.Helper()
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("the card lacks %q: %s", w, text)
			}
		}
	}
	first := text(f)
	holds(first, "&#43;12.00 ± 0.39 s", "at the check of Sun 1 Mar 2026 09:00", "−4.20 ± 0.20 s/day", "loses 5", "turn the nut", "the beat", "mainspring and its barrel")
	if strings.Contains(first, "wait") || strings.Contains(first, "Before you touch") {
		t.Errorf("the card says too much: %s", first)
	}
	f.Spring = &spring.Result{Verdict: spring.Fits, Cautions: []string{"wear glasses"}, GoingHours: &spring.Estimate{Value: quantity.Value{V: 190, U: 5}}}
	f.Rate = &beat.Result{Beats: 3600, DurationS: 3600}
	second := text(f)
	holds(second, "fits", "Before you touch the spring", "wear glasses", "wound until", "Sun 8 Mar 2026 21:12", "3600 beats in 60 min")
	if strings.Contains(second, "Still to be measured") {
		t.Errorf("nothing is lacking: %s", second)
	}
}

// The line of a scale holds the interval, whatever its size.
func TestScale(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		v        quantity.Value
		ends     string
		from, to float64 // of a line from 0 to 200
	}{
		{quantity.Value{V: 0, U: 0.5 / 1.959964}, "0.5", 0, 200},
		{quantity.Value{V: -4, U: 0}, "5", 18.5, 21.5},
		{quantity.Value{V: 60, U: 20 / 1.959964}, "100", 140, 180},
		{quantity.Value{V: 10, U: 0}, "10", 198.5, 201.5},
	} {
		s := scaleOf(c.v)
		if s == nil || s.Ends != c.ends || max(s.From-c.from, c.from-s.From, s.From+s.Long-c.to, c.to-s.From-s.Long) > 0.1 {
			t.Errorf("%v: %+v, want %g to %g of %s", c.v, s, c.from, c.to, c.ends)
		}
	}
	if s := scaleOf(quantity.Value{}); s != nil {
		t.Errorf("nothing at all is drawn as %+v", s)
	}
}

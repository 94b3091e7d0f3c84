package plots

import (
	"strings"
	"testing"
	"time"
)

func TestCalendar(t *testing.T) {
	paris, err := time.LoadLocation("Europe/Paris")
	if err != nil {
		t.Fatal(err)
	}
	// The clocks go forward on 29 March 2026: that day has 23 hours.
	d := dayTicks{start: time.Date(2026, 3, 27, 12, 0, 0, 0, paris)}
	for _, tt := range []struct {
		days float64
		want string
	}{
		{0.2, "12:00 13:00 14:00 15:00 16:00"},
		{4, "28 Mar 29 Mar 30 Mar 31 Mar"},
		{300, "May 2026 Jul 2026 Sep 2026 Nov 2026 Jan 2027"},
	} {
		var got []string
		for _, tick := range d.Ticks(0, tt.days) {
			got = append(got, tick.label)
			if at := d.at(tick.value).Round(time.Second); tt.days > 2 && (at.Hour() != 0 || at.Minute() != 0) {
				t.Errorf("a day's tick falls at %v", at)
			}
		}
		if strings.Join(got, " ") != tt.want {
			t.Errorf("over %g days: %q, want %q", tt.days, got, tt.want)
		}
	}
}

func TestTicks(t *testing.T) {
	labels := func(tk ticker, lo, hi float64) string {
		var out []string
		for _, t := range tk.Ticks(lo, hi) {
			if t.label != "" {
				out = append(out, t.label)
			}
		}
		return strings.Join(out, " ")
	}
	for _, tt := range []struct{ got, want string }{
		{labels(evenTicks{}, -0.31, 0.62), "−0.2 0 0.2 0.4 0.6"},
		{labels(evenTicks{sign: true}, -12, 26), "−10 0 +10 +20"},
		{labels(evenTicks{}, 999.1, 1000.9), "999.5 1000.0 1000.5"},
		{labels(evenTicks{}, 1, 1), ""},
		{labels(decadeTicks{}, 0.5, 20000), "1 10 100 1000 10\u00a0000"},
		{labels(decadeTicks{}, 2, 8), "2 3 5"},
		{labels(decadeTicks{}, 3e-6, 4e-5), "5e−6 1e−5 2e−5"},
		{labels(decadeTicks{}, 0, 10), ""},
	} {
		if tt.got != tt.want {
			t.Errorf("labels %q, want %q", tt.got, tt.want)
		}
	}
}

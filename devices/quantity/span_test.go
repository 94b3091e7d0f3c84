package quantity

import (
	"math"
	"testing"
	"time"
)

func TestParseSpan(t *testing.T) {
	tests := []struct {
		text string
		want time.Duration
		err  string
	}{
		{"10m", 10 * time.Minute, ""},
		{"36h", 36 * time.Hour, ""},
		{"1h30m", 90 * time.Minute, ""},
		{" 7d ", 168 * time.Hour, ""},
		{"0.5d", 12 * time.Hour, ""},
		{"0,5d", 12 * time.Hour, ""},
		{"0s", 0, `span of time 0s: must be more than nothing`},
		{"0", 0, `span of time 0: must be more than nothing`},
		{"7", 0, `"7" is no span of time: write it like 10m, 36h or 7d`},
		{"", 0, `"" is no span of time: write it like 10m, 36h or 7d`},
		{"d", 0, `"d" is no span of time: write it like 10m, 36h or 7d`},
		{"-10m", 0, `span of time -10m: must be more than nothing`},
		{"-7d", 0, `span of time -7d: must be more than nothing`},
		{"NaNd", 0, `"NaNd" is no span of time: write it like 10m, 36h or 7d`},
		{"infd", 0, `"infd" is no span of time: write it like 10m, 36h or 7d`},
		{"1e9d", 0, `span of time 1e9d: must be under 36500 days`},
		{"9999999999h", 0, `"9999999999h" is no span of time: write it like 10m, 36h or 7d`},
	}
	for _, test := range tests {
		got, err := ParseSpan(test.text)
		if message(err) != test.err || got != test.want {
			t.Errorf("%q: got %v, %v; want %v, %s", test.text, got, err, test.want, test.err)
		}
	}
}

func TestParseDialError(t *testing.T) {
	tests := []struct {
		text string
		want float64
		err  string
	}{
		{"+7.5s", 7.5, ""},
		{"7,5s", 7.5, ""},
		{"-1m12s", -72, ""},
		{"\u22121m12s", -72, ""},
		{"+250ms", 0.25, ""},
		{"0s", 0, ""},
		{",5s", 0.5, ""},
		{"-1m2,5s", -62.5, ""},
		{"42s,5s", 0, `"42s,5s" is not an error of the dial: write it like +7.5s (fast) or -1m12s (slow)`},
		{"7.5", 0, `"7.5" is not an error of the dial: write it like +7.5s (fast) or -1m12s (slow)`},
		{"fast", 0, `"fast" is not an error of the dial: write it like +7.5s (fast) or -1m12s (slow)`},
		{"NaNs", 0, `"NaNs" is not an error of the dial: write it like +7.5s (fast) or -1m12s (slow)`},
	}
	for _, test := range tests {
		got, err := ParseDialError(test.text)
		if message(err) != test.err || got != test.want {
			t.Errorf("%q: got %v, %v; want %v, %s", test.text, got, err, test.want, test.err)
		}
	}
}

func FuzzParseSpan(f *testing.F) {
	for _, s := range []string{"10m", "7d", "-1m12s", "1e300d", "0x1p-2d", "+7,5s"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseSpan(s); err == nil && d < 0 {
			t.Fatalf("%q is taken as %v", s, d)
		}
		if e, err := ParseDialError(s); err == nil && math.IsNaN(e) {
			t.Fatalf("%q is taken as no number", s)
		}
	})
}

func message(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func TestSpanText(t *testing.T) {
	for seconds, want := range map[float64]string{0.5: "0.5 s", 179: "179 s", 1024: "17.1 min", 7200: "2 h", 259199: "72 h", 16777216: "194 days", math.Inf(1): "unknown", math.NaN(): "unknown"} {
		if got := SpanText(seconds); got != want {
			t.Errorf("%g s: got %q, want %q", seconds, got, want)
		}
	}
}

func TestSpanWords(t *testing.T) {
	for seconds, want := range map[float64]string{0.2: "less than a second", 59.7: "1 min", 3599: "59 min 59 s", 7182: "1 h 59 min 42 s", 90061: "1 day 1 h 1 min 1 s", 172800: "2 days", 1e12: "1.16e+07 days"} {
		if got := SpanWords(seconds); got != want {
			t.Errorf("%g s: got %q, want %q", seconds, got, want)
		}
	}
	if got := SpanWords(math.NaN()); got != "unknown" {
		t.Errorf("no number: got %q", got)
	}
}

func TestDialText(t *testing.T) {
	for _, c := range []struct {
		v     Value
		write func(Value, string) string
		want  string
	}{
		{Value{V: 7182, U: 0.29}, Value.Signed, "+1 h 59 min 42.00 ± 0.57 s"},
		{Value{V: -7182, U: 0.29}, Value.Signed, "−1 h 59 min 42.00 ± 0.57 s"},
		{Value{V: -192.5, U: 0.29}, Value.Text, "−3 min 12.50 ± 0.57 s"},
		{Value{V: 192.5, U: 0.29}, Value.Text, "3 min 12.50 ± 0.57 s"},
		{Value{V: 7200, U: 0.29}, Value.Text, "2 h 0.00 ± 0.57 s"},
		{Value{V: 7199.999, U: 0.29}, Value.Text, "2 h 0.00 ± 0.57 s"},
		{Value{V: -72, U: 0.29}, Value.Signed, "−72.00 ± 0.57 s"},
		{Value{V: 7182, U: 100}, Value.Signed, "+7180 ± 200 s"},
		{Value{V: math.NaN()}, Value.Signed, "unknown"},
	} {
		if got := c.v.DialText(c.write); got != c.want {
			t.Errorf("%+v: got %q, want %q", c.v, got, c.want)
		}
	}
}

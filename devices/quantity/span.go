package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// maxDays keeps a span well inside what a time.Duration of nanoseconds holds.
const maxDays = 36500

// ParseSpan reads a span of time: Go's own form (10m, 36h, 1h30m) or whole or
// decimal days (7d, 0.5d). It is more than nothing, and in days under a century.
func ParseSpan(text string) (time.Duration, error) {
	s := durationText(text)
	d, err := time.ParseDuration(s)
	if err != nil {
		days, ok := strings.CutSuffix(s, "d")
		f, ferr := strconv.ParseFloat(days, 64)
		switch {
		case !ok || ferr != nil || math.IsNaN(f) || math.IsInf(f, 0):
			return 0, fmt.Errorf("%q is no span of time: write it like 10m, 36h or 7d", text)
		case f >= maxDays:
			return 0, fmt.Errorf("span of time %s: must be under %d days", s, maxDays)
		}
		d = time.Duration(max(f, -maxDays) * 24 * float64(time.Hour))
	}
	if d <= 0 {
		return 0, BadInput("span of time", s, "must be more than nothing")
	}
	return d, nil
}

// SpanText writes so many seconds as one says them: "17.1 min", to three digits.
func SpanText(seconds float64) string {
	unit, size := "s", 1.0
	switch {
	case !(math.Abs(seconds) < 1e15): // NaN too: nobody waits so long
		return "unknown"
	case seconds >= 3*86400:
		unit, size = "days", 86400
	case seconds >= 2*3600:
		unit, size = "h", 3600
	case seconds >= 180:
		unit, size = "min", 60
	}
	return strconv.FormatFloat(seconds/size, 'g', 3, 64) + " " + unit
}

// SpanWords writes a span of time to the second as one says it: "59 min 59 s".
func SpanWords(seconds float64) string {
	if !(math.Abs(seconds) < 9e9) { // three centuries, as much as a Duration holds
		return SpanText(seconds)
	}
	d := time.Duration(seconds * float64(time.Second)).Round(time.Second)
	var parts []string
	for _, unit := range []struct {
		one, name string
		size      time.Duration
	}{{"day", "days", 24 * time.Hour}, {"h", "h", time.Hour}, {"min", "min", time.Minute}, {"s", "s", time.Second}} {
		switch n := d / unit.size; {
		case n == 1:
			parts = append(parts, "1 "+unit.one)
		case n > 1:
			parts = append(parts, fmt.Sprintf("%d %s", n, unit.name))
		}
		d %= unit.size
	}
	if len(parts) == 0 {
		return "less than a second"
	}
	return strings.Join(parts, " ")
}

// DialText writes an error of a dial in seconds, by Value.Text or Value.Signed. From three
// minutes on hours and minutes stand apart: "+1 h 59 min 42.00 ± 0.57 s".
func (v Value) DialText(write func(Value, string) string) string {
	minutes := math.Floor(math.Abs(v.V) / 60)
	if !(minutes >= 3 && minutes < 1e8) || v.Half95() >= 60 {
		return write(v, "s")
	}
	rest := v
	rest.V = math.Abs(v.V) - 60*minutes
	if strings.HasPrefix(rest.Text("s"), "60") { // by rounding
		minutes++
		rest.V = 0
	}
	sign := ""
	switch {
	case v.V < 0:
		sign = "−"
	case strings.HasPrefix(write(Value{V: 1}, "s"), "+"):
		sign = "+"
	}
	return sign + SpanWords(60*minutes) + " " + strings.TrimPrefix(write(rest, "s"), "+")
}

// ParseDialError reads the error of a dial in seconds, plus = the clock is fast:
// +7.5s, -1m12s.
func ParseDialError(text string) (float64, error) {
	d, err := time.ParseDuration(durationText(text))
	if err != nil {
		return 0, fmt.Errorf("%q is not an error of the dial: write it like +7.5s (fast) or -1m12s (slow)", text)
	}
	if d.Abs() > MaxDialError {
		return 0, fmt.Errorf("error of the dial %s: no dial can be more than %gh out", text, MaxDialError.Hours())
	}
	return d.Seconds(), nil
}

// durationText writes text as time.ParseDuration wants it: point for comma, and a
// plain minus. A comma behind a unit parts two errors, "42s,0s", and stays: a point
// there would add them up.
func durationText(text string) string {
	s := []byte(strings.TrimSpace(plainSigns.Replace(text)))
	for i, c := range s {
		if c == ',' && (i == 0 || s[i-1] <= '9') {
			s[i] = '.'
		}
	}
	return string(s)
}

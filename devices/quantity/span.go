package quantity

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// ParseSpan reads a span of time: Go's own form (10m, 36h, 1h30m) or whole or
// decimal days (7d, 0.5d). It is never negative.
func ParseSpan(text string) (time.Duration, error) {
	s := strings.TrimSpace(text)
	d, err := time.ParseDuration(s)
	if err != nil {
		days, ok := strings.CutSuffix(s, "d")
		f, ferr := strconv.ParseFloat(days, 64)
		if !ok || ferr != nil || !(f >= 0 && f < 36500) {
			return 0, fmt.Errorf("%q is no span of time: write it like 10m, 36h or 7d", text)
		}
		d = time.Duration(f * 24 * float64(time.Hour))
	}
	if d < 0 {
		return 0, fmt.Errorf("span of time %s: must not be negative", text)
	}
	return d, nil
}

// ParseDialError reads the error of a dial in seconds, plus = the clock is fast:
// +7.5s, -1m12s.
func ParseDialError(text string) (float64, error) {
	d, err := time.ParseDuration(strings.TrimSpace(text))
	if err != nil {
		return 0, fmt.Errorf("%q is no error of a dial: write it like +7.5s (fast) or -1m12s (slow)", text)
	}
	return d.Seconds(), nil
}

package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Hand is where the hands of a dial stood at a full minute.
type Hand struct{ at, turn float64 } // seconds after twelve; the dial may show more, by whole turns

// NearestMinute is a hand of which nobody said where it stood.
var NearestMinute = Hand{0, 60}

// ParseHand reads a minute, or hours and minutes, off a dial: 7, 10:07.
func ParseHand(text string) (Hand, error) {
	h, m, full := strings.Cut(text, ":")
	if !full {
		h, m = "0", text
	}
	hours, err := strconv.ParseUint(h, 10, 8)
	minutes, err2 := strconv.ParseUint(m, 10, 8)
	if err != nil || err2 != nil || hours > 24 || minutes > 60 {
		return Hand{}, fmt.Errorf("%q is no minute: give it like 7 or 10:07", text)
	}
	if full {
		return Hand{float64(hours*3600 + minutes*60), 12 * 3600}, nil
	}
	return Hand{float64(minutes * 60), 3600}, nil
}

// DialError returns the dial's error in seconds, plus = fast, at a time of its zone: of
// all that the hands may show, the least.
func (h Hand) DialError(t time.Time) float64 {
	now := float64(t.Hour()*3600+t.Minute()*60+t.Second()) + float64(t.Nanosecond())/1e9
	return math.Remainder(h.at-now, h.turn)
}

package stability

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"evenbeat/devices/quantity"
)

// Taus is a choice of averaging factors. The zero value is Octave.
type Taus struct {
	spacing spacing
	list    []int64
}

// minTerms is the fewest terms for which a deviation is given. One alone has no interval.
const minTerms = 1

type spacing uint8

const (
	octave spacing = iota
	decade
	all
	listed
)

// maxFactor bounds a listed averaging factor, so that no sum of them overflows.
const maxFactor = 1 << 40

// Octave, Decade and All choose the powers of two, the powers of ten, and every
// averaging factor that leaves terms enough.
func Octave() Taus { return Taus{spacing: octave} }

// Decade chooses the powers of ten.
func Decade() Taus { return Taus{spacing: decade} }

// All chooses every averaging factor. The work grows with the square of the
// number of points.
func All() Taus { return Taus{spacing: all} }

// ParseTaus reads octave, decade, all, or a list of averaging factors, whole
// multiples of the interval: "1,2,10". Nothing at all means octave.
func ParseTaus(text string) (Taus, error) {
	switch strings.ToLower(strings.TrimSpace(text)) {
	case "", "octave":
		return Octave(), nil
	case "decade":
		return Decade(), nil
	case "all":
		return All(), nil
	}
	var list []int64
	for part := range strings.SplitSeq(text, ",") {
		m, err := strconv.ParseInt(strings.TrimSpace(part), 10, 64)
		if err != nil || m < 1 || m > maxFactor {
			return Taus{}, quantity.BadInput("taus", strconv.Quote(text),
				"write octave, decade, all, or whole multiples of the interval such as 1,2,10")
		}
		list = append(list, m)
	}
	slices.Sort(list)
	return Taus{spacing: listed, list: slices.Compact(list)}, nil
}

// factors returns the averaging factors for a series of so many phase points, in
// rising order, and the listed ones that are too long for it.
func (t Taus) factors(points int64) (use, tooLong []int64) {
	longest := longestFactor(points)
	step := func(m int64) int64 { return m + 1 }
	switch t.spacing {
	case octave:
		step = func(m int64) int64 { return 2 * m }
	case decade:
		step = func(m int64) int64 { return 10 * m }
	case listed:
		for _, m := range t.list {
			if m <= longest {
				use = append(use, m)
			} else {
				tooLong = append(tooLong, m)
			}
		}
		return use, tooLong
	}
	for m := int64(1); m <= longest; m = step(m) {
		use = append(use, m)
	}
	return use, nil
}

// longestFactor returns the longest averaging factor of so many points.
func longestFactor(points int64) int64 { return (points - minTerms) / 2 }

// allTooLong is the error when none of the averaging factors suits so many points.
func (t Taus) allTooLong(points int64) error {
	return quantity.BadInput("taus", shorten(t.String()),
		fmt.Sprintf("too long for %d points: %d is the longest, half the record", points, longestFactor(points)))
}

// shorten returns the beginning of a text that is too long for a sentence.
func shorten(text string) string { return fmt.Sprintf("%.40s", text) }

// String returns the choice as ParseTaus reads it.
func (t Taus) String() string {
	switch t.spacing {
	case decade:
		return "decade"
	case all:
		return "all"
	case listed:
		parts := make([]string, len(t.list))
		for i, m := range t.list {
			parts[i] = fmt.Sprint(m)
		}
		return strings.Join(parts, ",")
	}
	return "octave"
}

package quantity

import (
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Bounds of what may be recorded, whichever way it comes in: by a command, an instrument
// or a file. What lies beyond is a slip, and no sum could use it. They are our own choice.
const (
	// MinLength and MaxLength bound a size in metres.
	MinLength, MaxLength = 1e-6, 1e3
	// MaxCount is the largest bare number taken, and MaxCounted the largest count of
	// teeth, leaves or coils.
	MaxCount, MaxCounted = 1e6, 1e4
	// MaxTurns bounds the turns of a rating nut, either way.
	MaxTurns = 1000
	// MaxDialError bounds the error of a dial, either way, and the limit of error of a
	// comparison.
	MaxDialError = 24 * time.Hour
	// MaxName is how many characters a name may have.
	MaxName = 100
	// FirstYear and LastYear bound the times that can be written.
	FirstYear, LastYear = 1900, 2199
)

// Range is what a value can be, both ends included.
type Range struct{ Low, High float64 }

// Holds reports whether the value lies in the range; NaN lies in none.
func (r Range) Holds(v float64) bool { return v >= r.Low && v <= r.High }

// The air of any room.
var (
	Celsius         = Range{-60, 100}
	Hectopascal     = Range{300, 1200}
	PercentHumidity = Range{0, 100}
)

// CheckName refuses what can't be the name of a thing: it has 1 to 100 characters, none of
// which controls a terminal or breaks a line, and no blank at either end.
func CheckName(thing, name string) error {
	n := utf8.RuneCountInString(name)
	switch {
	case strings.TrimSpace(name) == "":
		return BadInput(thing, "", "the name is empty: write one")
	case n > MaxName:
		return BadInput(thing, fmt.Sprintf("%.20q…", name), fmt.Sprintf("a name has at most %d characters, and this one has %d", MaxName, n))
	case strings.ContainsAny(name, "\n\t") || Visible(name) != name:
		return BadInput(thing, fmt.Sprintf("%q", name), "a name has no line ends and no control characters")
	case strings.TrimSpace(name) != name:
		return BadInput(thing, fmt.Sprintf("%q", name), "a name begins and ends with no blank")
	}
	return nil
}

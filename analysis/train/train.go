// Package train computes how fast the arbors of a clock's train turn, and its beats an
// hour.
package train

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"
)

// Arbor is one arbor of a train.
type Arbor struct {
	Arbor   int     `json:"arbor"`    // from the barrel (1)
	Name    string  `json:"name"`     // barrel, escape …
	PeriodS float64 `json:"period_s"` // time of one turn, in the clock's own time
	// BeatsPerTurn is exact where it is whole; a turn need not be a whole number
	// of beats.
	BeatsPerTurn float64 `json:"-"`
}

// Pair is a wheel and the pinion that it drives.
type Pair struct{ Wheel, Pinion int }

// Train is a train from the great wheel on the barrel to the escape wheel.
type Train struct {
	Pairs         []Pair
	Escape        int // teeth of the escape wheel
	BeatsPerTooth int
	HourArbor     int // arbor that turns once an hour, counted from the barrel (1)
}

// The usual train: the escape wheel passes one tooth in two beats, and the arbor next to
// the barrel turns once an hour.
const (
	UsualBeatsPerTooth = 2
	UsualHourArbor     = 2
)

// Bounds beyond any clock.
const (
	maxTeeth         = 2000
	maxPairs         = 12
	maxBeatsPerTooth = 8
)

// Parse reads a train such as 96/8,80/10,75/10,30: each wheel's teeth over the
// leaves of the pinion it drives, from the great wheel on, and last the teeth of
// the escape wheel, which drives none. Blanks are allowed about the parts.
// beatsPerTooth is 1 to 8; hourArbor counts arbors from the barrel (1). The error
// names the part that can't be read, and what to write.
func Parse(text string, beatsPerTooth, hourArbor int) (Train, error) {
	t := Train{BeatsPerTooth: beatsPerTooth, HourArbor: hourArbor}
	parts := strings.Split(text, ",")
	if strings.TrimSpace(text) == "" {
		return Train{}, fmt.Errorf("train is empty: write wheels over pinions and the escape wheel, such as 96/8,80/10,75/10,30")
	}
	if len(parts) > maxPairs+1 {
		return Train{}, fmt.Errorf("train has %d wheels: no more than %d are taken", len(parts), maxPairs+1)
	}
	for i, part := range parts {
		part = strings.TrimSpace(part)
		wheel, pinion, paired := strings.Cut(part, "/")
		last := i == len(parts)-1
		numbers := strings.Fields(strings.ReplaceAll(part, "/", " "))
		switch {
		case part == "":
			return Train{}, fmt.Errorf("train %q: wheel %d is missing: write its teeth", text, i+1)
		case strings.ContainsAny(part, ":;"), len(numbers) > 1+strings.Count(part, "/"):
			return Train{}, fmt.Errorf("train %q: %q can't be read: write a slash between wheel and pinion and a comma after each pair, such as 96/8,80/10,75/10,30", text, part)
		case last && paired:
			return Train{}, fmt.Errorf("train %q: %s comes last and drives a pinion: end with the escape wheel alone, such as 30", text, part)
		case !last && !paired:
			return Train{}, fmt.Errorf("train %q: wheel %d (%s) drives no pinion: write it as %s/8; only the escape wheel, at the end, stands alone", text, i+1, part, part)
		}
		w, err := teeth(text, part, wheel)
		if err != nil {
			return Train{}, err
		}
		if last {
			t.Escape = w
			continue
		}
		p, err := teeth(text, part, pinion)
		if err != nil {
			return Train{}, err
		}
		t.Pairs = append(t.Pairs, Pair{Wheel: w, Pinion: p})
	}
	if beatsPerTooth < 1 || beatsPerTooth > maxBeatsPerTooth {
		return Train{}, fmt.Errorf("beats per tooth %d: must be 1 to %d; most escapements make 2", beatsPerTooth, maxBeatsPerTooth)
	}
	if n := len(t.Pairs) + 1; hourArbor < 1 || hourArbor > n {
		return Train{}, fmt.Errorf("hour arbor %d: the train %q has arbors 1 (barrel) to %d (escape): name the one that turns once an hour", hourArbor, text, n)
	}
	return t, nil
}

func teeth(text, part, number string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(number))
	if err != nil || n < 1 || n > maxTeeth {
		return 0, fmt.Errorf("train %q: %q in %q is no count of teeth: write a whole number from 1 to %d", text, strings.TrimSpace(number), part, maxTeeth)
	}
	return n, nil
}

// Ratio returns the turns that the last pinion's arbor makes for one of the first
// wheel's, exactly.
func Ratio(pairs ...Pair) *big.Rat {
	r := big.NewRat(1, 1)
	for _, p := range pairs {
		r.Mul(r, big.NewRat(int64(p.Wheel), int64(p.Pinion)))
	}
	return r
}

// BeatsPerTurn returns, exactly, the beats during one turn of an arbor, counted
// from the barrel (1); nil for an arbor the train doesn't have.
func (t Train) BeatsPerTurn(arbor int) *big.Rat {
	if arbor < 1 || arbor > len(t.Pairs)+1 {
		return nil
	}
	r := Ratio(t.Pairs[arbor-1:]...)
	return r.Mul(r, big.NewRat(int64(t.Escape)*int64(t.BeatsPerTooth), 1))
}

// BeatsPerHour returns, exactly, the beats in an hour of the clock's own time:
// those of one turn of the hour arbor.
func (t Train) BeatsPerHour() *big.Rat { return t.BeatsPerTurn(t.HourArbor) }

// Interval returns the time from beat to beat in seconds of the clock's own time.
func (t Train) Interval() float64 {
	return quotient(big.NewRat(3600, 1), t.BeatsPerHour())
}

// BarrelTurnHours returns the hours in which the barrel turns once.
func (t Train) BarrelTurnHours() float64 {
	return quotient(t.BeatsPerTurn(1), t.BeatsPerHour())
}

func quotient(a, b *big.Rat) float64 {
	f, _ := new(big.Rat).Quo(a, b).Float64()
	return f
}

// Arbors returns the arbors from the barrel to the escape wheel.
func (t Train) Arbors() []Arbor {
	out := make([]Arbor, len(t.Pairs)+1)
	for i := range out {
		beats := t.BeatsPerTurn(i + 1)
		turn := new(big.Rat).Mul(beats, big.NewRat(3600, 1))
		out[i] = Arbor{Arbor: i + 1, Name: t.name(i + 1), PeriodS: quotient(turn, t.BeatsPerHour())}
		out[i].BeatsPerTurn, _ = beats.Float64()
	}
	return out
}

// name names an arbor by its place. The one that turns once an hour is the centre arbor
// wherever it is, and the third follows it. Common practice, no source.
func (t Train) name(arbor int) string {
	switch last := len(t.Pairs) + 1; {
	case arbor == 1:
		return "barrel"
	case arbor == last:
		return "escape"
	case arbor == t.HourArbor:
		return "centre"
	case arbor > t.HourArbor:
		return ordinal(arbor - t.HourArbor + 2)
	case t.HourArbor == 3:
		return "intermediate"
	default:
		return ordinal(arbor-1) + " intermediate"
	}
}

func ordinal(n int) string {
	words := []string{"", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}
	if n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n) + "th"
}

package spring

import (
	"slices"
	"strings"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Whole is the verdict on the whole spring.
type Whole struct {
	Verdict WholeVerdict `json:"verdict"`
	Says    string       `json:"says"` // in words, without the full stop
	Checks  []Check      `json:"checks"`
}

// WholeVerdict sums up the checks.
type WholeVerdict string

// The verdicts on the whole spring. The length alone fits where nothing is amiss, but
// something else isn't known.
const (
	AllFits       WholeVerdict = "fits"
	LengthFits    WholeVerdict = "length fits"
	DoesNotFit    WholeVerdict = "does not fit"
	NotKnownToFit WholeVerdict = "cannot tell"
)

// Check is one of the things that must be known and good before a spring fits.
type Check struct {
	Name string `json:"name"` // length, height, arbor, hook
	Held Held   `json:"held"`
	says string // what is to be said of it, unless it is good
}

// whole judges the length in the barrel, the height under the cover, the strip round the
// arbor, and the hook.
func whole(in Input, r Result) Whole {
	w := Whole{Checks: []Check{lengthCheck(in, r), heightCheck(in, r), arborCheck(in, r), hookCheck(in)}}
	length := w.Checks[0].Held
	switch {
	case w.any(Broken):
		w.Verdict = DoesNotFit
	case !w.any(Unclear, NotKnown):
		w.Verdict = AllFits
	case length == Kept:
		w.Verdict = LengthFits
	default:
		w.Verdict = NotKnownToFit
	}
	w.Says = w.words()
	return w
}

func (w Whole) any(held ...Held) bool {
	return slices.ContainsFunc(w.Checks, func(c Check) bool { return slices.Contains(held, c.Held) })
}

// is returns how the check of that name came out.
func (w Whole) is(name string) Held {
	for _, c := range w.Checks {
		if c.Name == name {
			return c.Held
		}
	}
	return NotKnown
}

// words says what is amiss; or, where nothing is, what isn't known.
func (w Whole) words() string {
	if w.Verdict == AllFits {
		return "The spring fits this barrel"
	}
	var say []string
	for _, c := range w.Checks {
		if c.Held == Broken || w.Verdict != DoesNotFit && (c.Held == Unclear || c.Held == NotKnown) {
			say = append(say, c.says)
		}
	}
	head := "Cannot tell yet whether the spring fits: "
	switch length, height := w.is("length"), w.is("height"); {
	case length == Broken:
		head = "The spring is "
	case length == Kept && height == Kept:
		head = "Length and height fit; "
	case length == Kept:
		head = "The length fits; "
	case w.Verdict == DoesNotFit:
		head = "The spring can't be fitted as it is: "
	}
	return head + strings.Join(say, ", ")
}

func lengthCheck(in Input, r Result) Check {
	c := Check{Name: "length", Held: Broken}
	switch byFill(in, r) {
	case Fits:
		c.Held = Kept
	case Short:
		c.says = "too short for this barrel"
	case Long:
		c.says = "too long for this barrel"
	case DoesNotGo:
		c.says = "longer than the whole space in this barrel holds"
	case CannotTell:
		c.Held, c.says = Unclear, "the length is too near a limit"
		if r.Fill == nil {
			c.Held, c.says = NotKnown, "length not known"
		}
	}
	return c
}

func heightCheck(in Input, r Result) Check {
	c := Check{Name: "height", Held: NotKnown}
	switch {
	case in.Height == nil && in.Depth == nil:
		c.says = "height and depth not measured"
		return c
	case in.Height == nil:
		c.says = "height not measured"
		return c
	case in.Depth == nil:
		c.says = "inside depth not measured"
		return c
	}
	under := clearance(in)
	c.Held = r.ruled(endFloat)
	switch {
	case under == nil || c.Held == Unclear:
		c.Held, c.says = Unclear, "whether the height fits can't be told"
	case c.Held == Broken && tooHigh(in):
		c.says = "too high for the barrel by " + in.Units.Length(under.Scale(-1))
	case c.Held == Broken && under.V < in.Limits.EndFloatLow:
		c.says = "too high: only " + in.Units.Length(*under) + " of clearance under the cover"
	case c.Held == Broken:
		c.says = "too low: " + in.Units.Length(*under) + " of clearance under the cover"
	}
	return c
}

func arborCheck(in Input, r Result) Check {
	c := Check{Name: "arbor", Held: r.ruled(arborToStrip)}
	switch c.Held {
	case Broken:
		c.says = "arbor too thin for this strip"
	case Unclear:
		c.says = "whether the arbor is thick enough for the strip can't be told"
	case NotKnown:
		c.says = "strip not measured"
		if in.Arbor == nil {
			c.says = "arbor not measured"
		}
	}
	return c
}

func hookCheck(in Input) Check {
	c := Check{Name: "hook", Held: in.Hook}
	switch in.Hook {
	case Broken:
		c.says = "hook or hole not sound"
	case "":
		c.Held, c.says = NotKnown, "hook not looked at"
	case NotKnown:
		c.says = "only one of the two hooks looked at"
	}
	return c
}

// ruled returns whether the rule of that name is kept.
func (r Result) ruled(name string) Held {
	for _, x := range r.Rules {
		if x.Name == name {
			return x.Held
		}
	}
	return NotKnown
}

func less(x []float64) float64 { return x[0] - x[1] }

// clearance is how much lower the strip is than the barrel is deep inside, in metres; nil
// where one of the two isn't known.
func clearance(in Input) *quantity.Value {
	if in.Depth == nil || in.Height == nil {
		return nil
	}
	q, err := uncertainty.Propagate(endFloat, []uncertainty.Quantity{*in.Depth, *in.Height}, less)
	if err != nil {
		return nil
	}
	v := q.Value()
	return &v
}

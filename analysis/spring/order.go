package spring

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"evenbeat/devices/quantity"
)

// Order is the strip to ask a supplier for, in sizes as one orders them; metres.
type Order struct {
	Name          string  `json:"name,omitempty"`           // in the stock list; none where the list has none that fits
	Height        float64 `json:"height_m"`                 // of the strip
	Thickness     float64 `json:"thickness_m"`              // of the strip
	Length        float64 `json:"length_m"`                 // of the strip
	Turns         float64 `json:"turns"`                    // that it gives
	StrengthRatio float64 `json:"strength_ratio,omitempty"` // against the spring that came out
	Says          string  `json:"says"`                     // the line to send
}

// steps are those in which strip is sold, in metres: common practice, no source.
type steps struct{ height, thickness, length float64 }

func stepsIn(u quantity.System) steps {
	if inch := quantity.Inch.Metres(); u == quantity.Imperial {
		return steps{inch / 64, inch / 1000, inch}
	}
	return steps{0.5e-3, 0.01e-3, 10e-3}
}

// order finds the strip to order: of the stock list's that fit the best, else of all
// thicknesses that are sold the one that is nearest to the old spring in height ×
// thickness³ / length at its own ideal length, and then has the most turns. It is nil
// while the height isn't known.
func order(in Input, r Result) *Order {
	if in.Bore == nil || in.Arbor == nil || in.Strip == nil {
		return nil
	}
	s := stepsIn(in.Units)
	height := orderHeight(in, r, s.height)
	const mostSteps = 1000 // no strip is 10 mm thick
	if !(height > 0) || in.Strip.V > mostSteps*s.thickness {
		return nil
	}
	for _, l := range r.Stock {
		if l.Verdict == Fits && !l.none() && l.Length > 0 {
			return orderOf(in, Order{Name: l.Name, Height: cmp.Or(l.Height, height), Thickness: l.Thickness, Length: l.Length, Turns: l.Turns, StrengthRatio: l.StrengthRatio})
		}
	}
	var all []Order
	for k := math.Ceil(0.8 * in.Strip.V / s.thickness); k*s.thickness <= 1.2*in.Strip.V; k++ {
		b := Barrel{Bore: in.Bore.V, Arbor: in.Arbor.V, Strip: k * s.thickness}
		o := Order{Height: height, Thickness: b.Strip, Length: math.Round(b.IdealLength()/s.length) * s.length}
		if f := b.Fill(o.Length); b.Strip >= (b.Bore-b.Arbor)/2 || f < in.Limits.FillLow || f > in.Limits.FillHigh {
			continue
		}
		o.Turns = b.Turns(o.Length)
		if r.Length != nil && in.Height != nil {
			o.StrengthRatio = Strength(height, b.Strip, o.Length) / Strength(in.Height.V, in.Strip.V, r.Length.V)
		}
		all = append(all, o)
	}
	if len(all) == 0 {
		return nil
	}
	return orderOf(in, slices.MinFunc(all, func(x, y Order) int {
		near := func(o Order) float64 {
			if o.StrengthRatio == 0 {
				return apart(o.Thickness / in.Strip.V)
			}
			return apart(o.StrengthRatio)
		}
		return cmp.Or(cmp.Compare(near(x), near(y)), cmp.Compare(y.Turns, x.Turns))
	}))
}

// orderHeight is the height to order, down to a step that is sold: the old strip's where it
// is good or the depth isn't known, else the most that leaves the least clearance. It is 0
// where neither is known.
func orderHeight(in Input, r Result, step float64) float64 {
	const grain = 1e-9 // of a size that is a step already
	switch {
	case in.Height != nil && (in.Depth == nil || r.Whole.is("height") == Kept):
		return math.Round(in.Height.V/step) * step
	case in.Depth != nil:
		return math.Floor((in.Depth.V-in.Limits.EndFloatLow)/step+grain) * step
	}
	return 0
}

// orderOf writes the line as a supplier reads it: height × thickness × length.
func orderOf(in Input, o Order) *Order {
	tenths := 1
	if in.Units == quantity.Imperial {
		tenths = 2
	}
	size := func(v float64, decimals int) string { return in.Units.Size(v, decimals) }
	o.Says = fmt.Sprintf("mainspring %s high × %s thick × %s long, for a barrel of %s bore; %s",
		size(o.Height, tenths), size(o.Thickness, 2), size(o.Length, 0), size(in.Bore.V, tenths), endAndDirection(in))
	if o.Name != "" {
		o.Says = "from stock, " + o.Name + ": " + o.Says
	}
	return &o
}

// endAndDirection writes what of both was seen.
func endAndDirection(in Input) string {
	winds := "winds " + in.Direction
	switch {
	case in.End == "" && in.Direction == "":
		return "end and direction as the old spring's"
	case in.End == "":
		return winds + ", end as the old spring's"
	case in.Direction == "":
		winds = "direction as the old spring's"
	}
	if in.End == "T-end" {
		return in.End + ", " + winds
	}
	return in.End + " end, " + winds
}

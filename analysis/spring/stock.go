package spring

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Stock is one strip of a stock list. Lengths are in metres; without a Length it is
// cut to the best one, without a Height it is taken as high as the spring that came
// out.
type Stock struct {
	Name      string
	Thickness uncertainty.Quantity
	Height    *uncertainty.Quantity
	Length    *uncertainty.Quantity
	Quantity  *int64 // at hand; nil where the list doesn't say
}

func (s Stock) check(i int, u quantity.System) error {
	name := s.Name
	if name == "" {
		name = fmt.Sprintf("row %d", i+1)
	}
	for _, c := range []struct {
		what string
		q    *uncertainty.Quantity
	}{{"thickness", &s.Thickness}, {"height", s.Height}, {"length", s.Length}} {
		if c.q == nil {
			continue
		}
		if v := c.q.V; !(v >= leastSize && v <= mostSize) {
			return quantity.BadInput("stock "+name+", "+c.what, sizeText(u, v), "must be greater than zero, and a size that a strip can have")
		}
		if x := c.q.U(); !(x <= mostSize) {
			return quantity.BadInput("stock "+name+", "+c.what, sizeText(u, c.q.V), "its uncertainty must be a finite number")
		}
	}
	return nil
}

// stockLines ranks a stock list for this barrel: by verdict, by whether the strip goes as
// long as the old spring, by whether it is at hand, by how near it is to the old spring in
// strength, and by turns. need is the days of the longest usual run that the old spring
// gives, 0 if that is not known.
func stockLines(in Input, b base, need float64) []StockLine {
	out := make([]StockLine, 0, len(in.Stock))
	for _, s := range in.Stock {
		out = append(out, stockLine(in, b.at(), s, need))
	}
	slices.SortStableFunc(out, func(x, y StockLine) int {
		return cmp.Or(
			cmp.Compare(stockOrder(x.Verdict), stockOrder(y.Verdict)),
			yesLast(x.shortOf(need), y.shortOf(need)),
			yesLast(x.none(), y.none()),
			cmp.Compare(apart(x.StrengthRatio), apart(y.StrengthRatio)),
			cmp.Compare(y.Turns, x.Turns))
	})
	return out
}

// shortOf reports whether a strip whose hours are known doesn't last so many days.
func (l StockLine) shortOf(days float64) bool {
	return l.GoingHours > 0 && l.GoingHours < 24*days
}

// none reports whether the list says that none is left.
func (l StockLine) none() bool { return l.Quantity != nil && *l.Quantity == 0 }

func yesLast(x, y bool) int {
	switch {
	case x == y:
		return 0
	case x:
		return 1
	}
	return -1
}

// needed returns the days of the longest usual run that these turns are enough for.
func needed(runs []Run) float64 {
	var days float64
	for _, run := range runs {
		if run.Reserve.V >= 0 {
			days = max(days, run.Days)
		}
	}
	return days
}

// stockOrder: a long strip can be cut, a short one can't be made longer.
func stockOrder(v Verdict) int {
	return slices.Index([]Verdict{Fits, CannotTell, Long, Short, DoesNotGo}, v)
}

func apart(ratio float64) float64 {
	if ratio <= 0 {
		return 0
	}
	return math.Abs(math.Log(ratio))
}

func stockLine(in Input, old sizes, s Stock, need float64) StockLine {
	line := StockLine{Name: s.Name, Thickness: s.Thickness.V, Quantity: s.Quantity, Verdict: DoesNotGo}
	if s.Height != nil {
		line.Height = s.Height.V
	}
	b := Barrel{Bore: in.Bore.V, Arbor: in.Arbor.V, Strip: s.Thickness.V}
	if b.Strip >= (b.Bore-b.Arbor)/2 {
		line.Why = "thicker than the gap between arbor and wall"
		return line
	}
	one := Input{Bore: in.Bore, Arbor: in.Arbor, Strip: &s.Thickness, Height: s.Height, Depth: in.Depth, Length: s.Length, Limits: in.Limits}
	if one.Length == nil {
		cut := uncertainty.Exact("length", b.IdealLength())
		one.Length = &cut
	}
	line.Length = one.Length.V
	nb := newBase(one)
	r := Result{Fill: nb.value("fill", sizes.fill)}
	line.Verdict = verdict(one, r)
	if line.Fill = b.Fill(line.Length); line.Fill < 1 {
		line.Turns = b.Turns(line.Length)
		line.GoingHours = in.usable(nb, quantity.Value{V: line.Turns}).V * in.BarrelTurnHours
	}
	if l := old.stripLength(); l > 0 && in.Strip != nil {
		line.StrengthRatio = Strength(1, s.Thickness.V, line.Length) / Strength(1, in.Strip.V, l)
		if s.Height != nil && in.Height != nil {
			line.StrengthRatio *= s.Height.V / in.Height.V
		}
	}
	line.Why = stockWhy(in, b, s, line, tooHigh(one), need)
	return line
}

// stockWhy says the one thing to know about a strip: the worst.
func stockWhy(in Input, b Barrel, s Stock, line StockLine, high bool, need float64) string {
	switch {
	case high:
		return "higher than the barrel is deep inside"
	case line.Verdict == Long || line.Verdict == DoesNotGo:
		return "too long as it is; its ideal length is " + sizeText(in.Units, b.IdealLength())
	case line.Verdict == Short:
		return "too short; its ideal length is " + sizeText(in.Units, b.IdealLength())
	case line.Verdict == CannotTell:
		return "near a limit: measure strip and barrel more finely before ordering"
	case line.shortOf(need):
		return fmt.Sprintf("goes %.3g h, less than the %s of the spring that came out", line.GoingHours, daysWords(need))
	case line.StrengthRatio > 1.1:
		return fmt.Sprintf("%.0f %% stronger than the spring that came out: needless wear on train and pivots", 100*(line.StrengthRatio-1))
	case line.StrengthRatio > 0 && line.StrengthRatio < 0.9:
		return fmt.Sprintf("%.0f %% weaker than the spring that came out: the clock may not keep its swing", 100*(1-line.StrengthRatio))
	case line.none():
		return "none left: order it"
	case s.Length == nil:
		return "cut to its ideal length"
	}
	return ""
}

// bandSteps are the thicknesses of the band against this strip's.
var bandSteps = []float64{0.80, 0.85, 0.90, 0.95, 1, 1.05, 1.10, 1.15, 1.20}

// band returns the strips that would fit this barrel: for thicknesses about this
// one's, or about a hundredth of the bore where the strip is not known (common
// practice, no source), the lengths between the limits of fill.
func band(in Input, old sizes) []Band {
	middle := in.Bore.V / 100
	if in.Strip != nil {
		middle = in.Strip.V
	}
	var out []Band
	for _, f := range bandSteps {
		b := Barrel{Bore: in.Bore.V, Arbor: in.Arbor.V, Strip: f * middle}
		if b.Strip >= (b.Bore-b.Arbor)/2 {
			continue
		}
		whole := b.Space() / b.Strip
		line := Band{
			Thickness: b.Strip, LengthLow: in.Limits.FillLow * whole, LengthIdeal: whole / 2,
			LengthHigh: in.Limits.FillHigh * whole, TurnsBest: b.Turns(whole / 2),
		}
		if l := old.stripLength(); l > 0 && in.Strip != nil {
			line.StrengthRatio = Strength(1, b.Strip, line.LengthIdeal) / Strength(1, in.Strip.V, l)
		}
		out = append(out, line)
	}
	return out
}

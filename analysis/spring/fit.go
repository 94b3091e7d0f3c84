package spring

import (
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Fit says whether a spring fits its barrel, as far as the inputs allow. What can't be
// found is left out of the result, and the next steps say what to measure. Where the
// inputs don't decide, the verdict is CannotTell. The error is a *quantity.InputError for
// impossible sizes or settings.
//
// Uncertainties are propagated to first order with the errors that inputs share (JCGM
// 100:2008, 5.2.2), and each 95 % interval has the factor for the shapes of its errors.
func Fit(in Input) (Result, error) {
	in = in.withStripByCoils()
	if err := in.check(); err != nil {
		return Result{}, err
	}
	r := Result{
		Part: in.Part, LengthFrom: in.from(),
		FillLow: in.Limits.FillLow, FillHigh: in.Limits.FillHigh,
		Bore: valueOf(in.Bore), Arbor: valueOf(in.Arbor), Strip: valueOf(in.Strip),
		Height: valueOf(in.Height), Depth: valueOf(in.Depth), Length: valueOf(in.Length),
		Inner: valueOf(in.Inner), Coils: valueOf(in.Coils),
		Verdict: CannotTell,
	}
	if in.Bore != nil && in.Arbor != nil {
		if err := r.figures(in); err != nil {
			return Result{}, err
		}
	}
	r.Rules = rules(in)
	r.Verdict, r.Whole = verdict(in, r), whole(in, r)
	r.Order = order(in, r)
	r.Cautions = cautions(in, r)
	why := reasons(in, r)
	r.Reasons, r.Matters = why.all, why.matter
	r.Next = next(in, r)
	r.Working = working(in, r)
	return r, nil
}

// figures fills in what follows from a known barrel.
func (r *Result) figures(in Input) error {
	b := newBase(in)
	r.HalfArea = b.value("half area", sizes.halfArea)
	r.HalfCircle = math.Sqrt((in.Bore.V*in.Bore.V + in.Arbor.V*in.Arbor.V) / 2)
	if in.Strip != nil {
		r.IdealLength = b.value("ideal length", sizes.IdealLength)
		r.TurnsBest = b.value("greatest turns", sizes.turnsBest)
		r.Stress = b.and("modulus", modulusOf(in.Limits)).value("stress", sizes.stress)
	}
	if b.from == FromNone {
		r.Band = band(in, b.at())
		r.Stock = stockLines(in, b, 0)
		return nil
	}
	r.Fill = b.value("fill", sizes.fill)
	s := b.at()
	if s.fill() < 1 {
		r.Wound, r.Rundown = b.value("wound coil", sizes.wound), b.value("run-down coil", sizes.rundown)
		if r.Fill != nil {
			lost := lostValue(s.Barrel, *r.Fill)
			r.TurnsLost = &lost
		}
	}
	if in.Strip != nil {
		r.withStrip(in, b)
	}
	r.InPlace = inPlace(in)
	r.Budget = budget(in, b)
	var err error
	r.MonteCarlo, err = drawn(in, b, *r)
	return err
}

// withStrip fills in what also needs the strip's thickness and a length.
func (r *Result) withStrip(in Input, b base) {
	if b.from != FromLength {
		r.Length = b.value("length", sizes.stripLength)
	}
	if b.at().fill() < 1 {
		r.Turns = b.value("turns", sizes.turns)
		r.CoilsWound = b.value("coils wound", sizes.coilsWound)
		r.CoilsRundown = b.value("coils run down", sizes.coilsRundown)
		r.going(in, b)
		r.strength(in, b)
	}
	if r.Length != nil && r.IdealLength != nil && r.Fill != nil && !r.Fill.Covers(0.5) {
		r.OverIdeal = r.Length.V - r.IdealLength.V
	}
	r.Band = band(in, b.at())
	r.Stock = stockLines(in, b, needed(r.Runs))
}

func valueOf(q *uncertainty.Quantity) *quantity.Value {
	if q == nil {
		return nil
	}
	v := q.Value()
	return &v
}

// drawn checks the first-order figures by a Monte Carlo of the same inputs.
func drawn(in Input, b base, r Result) ([]Drawn, error) {
	if in.MonteCarlo == 0 {
		return nil, nil
	}
	var out []Drawn
	for _, c := range []struct {
		name  string
		first *quantity.Value
		f     func(sizes) float64
	}{{"fill", r.Fill, sizes.fill}, {"ideal_length_m", r.IdealLength, sizes.IdealLength}, {"turns", r.Turns, sizes.turns}} {
		if c.first == nil {
			continue
		}
		d, err := uncertainty.MonteCarlo(in.MonteCarlo, in.Seed, b.in, b.sum(c.f))
		if err != nil {
			return nil, err
		}
		out = append(out, Drawn{Figure: c.name, N: d.N - d.Lost, Mean: d.Mean, U: d.U, Low95: d.Low, High95: d.High, First: c.first.Half95()})
	}
	return out, nil
}

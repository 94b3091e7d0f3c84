package spring

// verdict says whether the strip goes in, and whether its length fits. A length that fits
// is no answer while the height may be more than the depth.
func verdict(in Input, r Result) Verdict {
	v := byFill(in, r)
	switch c := clearance(in); {
	case tooHigh(in):
		return DoesNotGo
	case v == Fits && c != nil && c.Low95() < 0:
		return CannotTell
	}
	return v
}

// byFill compares the fill's 95 % interval with the limits. It is CannotTell where the
// interval reaches over a limit, except between long and too long to go in: that it is
// long is certain then, and the reasons say the rest.
func byFill(in Input, r Result) Verdict {
	if r.Fill == nil {
		return CannotTell
	}
	low, high := r.Fill.Low95(), r.Fill.High95()
	switch {
	case low >= 1:
		return DoesNotGo
	case low > in.Limits.FillHigh:
		return Long
	case high < in.Limits.FillLow:
		return Short
	case low >= in.Limits.FillLow && high <= in.Limits.FillHigh:
		return Fits
	}
	return CannotTell
}

// tooHigh reports whether the strip is certainly higher than the barrel is deep inside.
func tooHigh(in Input) bool {
	c := clearance(in)
	return c != nil && c.High95() < 0
}

// straddled returns the limit that the fill's interval reaches over, if any.
func straddled(in Input, r Result) (limit float64, ok bool) {
	if r.Fill == nil {
		return 0, false
	}
	for _, l := range []float64{in.Limits.FillLow, in.Limits.FillHigh} {
		if r.Fill.Low95() < l && r.Fill.High95() > l {
			return l, true
		}
	}
	return 0, false
}

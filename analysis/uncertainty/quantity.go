package uncertainty

import (
	"fmt"
	"math"

	"evenbeat/devices/quantity"
)

// Shape is how an error is spread about zero.
type Shape uint8

// The shapes. A rectangular error is equally likely anywhere within its limit ±a, and U
// is a/√3 (JCGM 100:2008, 4.3.7). A Student error comes from few readings, and U is their
// s/√n.
const (
	Normal Shape = iota
	Rectangular
	Student
)

// Causes of an error, by the names that the budget uses.
const (
	CauseScatter    = "scatter of the readings"
	CauseInstrument = "limit of error of the instrument"
	CauseResolution = "resolution of the display"
	CauseZero       = "zero reading"
	CauseStated     = "uncertainty stated with the value"
	CauseAssumed    = "assumed limit of error"
)

// Source is one error that a quantity has.
type Source struct {
	// Key names the error itself. Sources with the same key, in one quantity or in
	// several, are the same error and so fully correlated. An error without a key is
	// shared with nothing.
	Key string
	// U is the standard uncertainty in the quantity's unit. In a propagated quantity its
	// sign says which way the error enters, so that errors can cancel in further sums.
	U     float64
	Shape Shape
	// DoF is the degrees of freedom; 0 means infinitely many. Student needs it.
	DoF float64
	// Estimate names the estimate that U comes from. Sources with the same one are
	// other errors, but all their U are too large or too small together, so that its
	// degrees of freedom count once. Without a name it is shared with nothing.
	Estimate string
	Cause    string
}

// Quantity is an estimate and the errors it has.
type Quantity struct {
	Name    string
	V       float64
	Sources []Source
}

// Exact returns a quantity without error, such as a count.
func Exact(name string, v float64) Quantity { return Quantity{Name: name, V: v} }

// Limit returns a quantity with a limit of error ±a, in the unit of v. The key names the
// error, see Source.
func Limit(name string, v, a float64, key, cause string) Quantity {
	return Quantity{Name: name, V: v, Sources: []Source{{Key: key, U: a / math.Sqrt(3), Shape: Rectangular, Cause: cause}}}
}

// Stated returns a quantity with the uncertainty that was written with it.
func Stated(name string, n quantity.Number) Quantity {
	s := Source{U: n.U, Cause: CauseStated}
	if n.Rectangular {
		s.Shape = Rectangular
	}
	return Quantity{Name: name, V: n.V, Sources: []Source{s}}
}

// U returns the standard uncertainty. Errors of the same key are added, the rest in
// quadrature (JCGM 100:2008, 5.1.2 and 5.2.2).
func (q Quantity) U() float64 {
	var sum float64
	for _, s := range q.merged() {
		sum += s.U * s.U
	}
	return math.Sqrt(sum)
}

// Value returns the estimate with its standard uncertainty and its factor for a 95 %
// interval, see Coverage.
func (q Quantity) Value() quantity.Value {
	s := q.merged()
	return quantity.Value{V: q.V, U: q.U(), K: Coverage(s)}
}

// effectiveDoF returns the effective degrees of freedom of the combined uncertainty
// of sources without common keys, by the Welch–Satterthwaite formula (JCGM 100:2008,
// G.4.1, equation G.2b); infinite when no source has finite ones. The formula holds for
// independent estimates, so the variances that share one are summed before the square.
func effectiveDoF(sources []Source) float64 {
	var u2, den float64
	for i, s := range sources {
		u2 += s.U * s.U
		if s.DoF <= 0 {
			continue
		}
		for j, t := range sources {
			if i == j || s.Estimate != "" && s.Estimate == t.Estimate {
				den += s.U * s.U * t.U * t.U / s.DoF
			}
		}
	}
	if den == 0 {
		return math.Inf(1)
	}
	return u2 * u2 / den
}

// merged returns the sources with those of the same key added up, in the order in which
// the keys first occur.
func (q Quantity) merged() []Source {
	out := make([]Source, 0, len(q.Sources))
	at := make(map[string]int, len(q.Sources))
	for _, s := range q.Sources {
		if s.Key != "" {
			if i, ok := at[s.Key]; ok {
				out[i].U += s.U
				continue
			}
			at[s.Key] = len(out)
		}
		out = append(out, s)
	}
	return out
}

// check reports what makes the quantity unusable.
func (q Quantity) check() error {
	if math.IsNaN(q.V) || math.IsInf(q.V, 0) {
		return fmt.Errorf("%s is %v: a measured value must be a finite number", q.Name, q.V)
	}
	for _, s := range q.Sources {
		switch {
		case math.IsNaN(s.U) || math.IsInf(s.U, 0):
			return fmt.Errorf("%s has an uncertainty of %v (%s): it must be a finite number", q.Name, s.U, s.Cause)
		case s.Shape == Student && !(s.DoF > 0):
			return fmt.Errorf("%s has %v degrees of freedom (%s): they must be positive", q.Name, s.DoF, s.Cause)
		}
	}
	return nil
}

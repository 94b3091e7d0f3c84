package uncertainty

import (
	"fmt"
	"math"
)

// Propagate returns y = f(x) with its errors from those of the inputs, to first order:
//
//	u²(y) = Σₖ (Σᵢ cᵢ·uᵢₖ)²,  cᵢ = ∂f/∂xᵢ
//
// k runs over the errors by their key, so that an error which several inputs share
// enters as one (JCGM 100:2008, 5.1.2, and 5.2.2 note 1 for full correlation). The
// derivatives are central differences, so that f must be smooth within 1e-5 of each
// input. The error names the input that is not finite, or says that f has no finite
// value.
func Propagate(name string, in []Quantity, f func(x []float64) float64) (Quantity, error) {
	x, err := values(in)
	if err != nil {
		return Quantity{}, err
	}
	y := f(x)
	c := make([]float64, len(in))
	for i := range x {
		c[i] = derivative(x, i, f)
		if math.IsNaN(c[i]) || math.IsInf(c[i], 0) {
			return Quantity{}, fmt.Errorf("%s can't be computed near %s = %g", name, in[i].Name, x[i])
		}
	}
	return combine(name, y, in, c)
}

func values(in []Quantity) ([]float64, error) {
	x := make([]float64, len(in))
	for i, q := range in {
		if err := q.check(); err != nil {
			return nil, err
		}
		x[i] = q.V
	}
	return x, nil
}

func combine(name string, y float64, in []Quantity, c []float64) (Quantity, error) {
	if math.IsNaN(y) || math.IsInf(y, 0) {
		return Quantity{}, fmt.Errorf("%s has no finite value for these inputs", name)
	}
	out := Quantity{Name: name, V: y}
	for i, q := range in {
		for j, s := range q.Sources {
			if s.U *= c[i]; s.U == 0 {
				continue
			}
			if s.Key == "" {
				// An error without a key gets one, so that two figures made of the same
				// input share it.
				s.Key = fmt.Sprintf("%s: %s (%d)", q.Name, s.Cause, j)
			}
			out.Sources = append(out.Sources, s)
		}
	}
	out.Sources = out.merged()
	return out, nil
}

// derivative is the central difference. A step of 1e-5 of the input balances the
// truncation error (step²) against the rounding of f (1e-16/step): both near 1e-10.
func derivative(x []float64, i int, f func([]float64) float64) float64 {
	h := 1e-5 * math.Abs(x[i])
	if h == 0 {
		h = 1e-5
	}
	at := func(v float64) float64 {
		moved := append([]float64(nil), x...)
		moved[i] = v
		return f(moved)
	}
	up, down := x[i]+h, x[i]-h
	return (at(up) - at(down)) / (up - down)
}

// Share is one input's part in a variance.
type Share struct {
	Input string
	Share float64 // of 1; the shares add up to 1
	Cause string  // the cause of the greatest part of it
}

// Budget returns each input's share of the variance of y = f(x), in the order of the
// inputs: the covariance of the input's own contribution with y, over the variance of y.
// Inputs that share an error each get their part of it, and an input whose error cancels
// another's has a negative share. Without any uncertainty all shares are 0.
func Budget(in []Quantity, f func(x []float64) float64) ([]Share, error) {
	y, err := Propagate("the figure", in, f)
	if err != nil {
		return nil, err
	}
	whole := make(map[string]float64, len(y.Sources))
	for _, s := range y.Sources {
		whole[s.Key] = s.U
	}
	u2 := y.U() * y.U()
	out := make([]Share, len(in))
	x, _ := values(in)
	for i, q := range in {
		out[i].Input = q.Name
		if u2 == 0 {
			continue
		}
		part, err := combine(q.Name, q.V, in[i:i+1], []float64{derivative(x, i, f)})
		if err != nil {
			return nil, err
		}
		var most float64
		for _, s := range part.Sources {
			v := s.U * whole[s.Key] / u2
			out[i].Share += v
			if math.Abs(v) > most {
				most, out[i].Cause = math.Abs(v), s.Cause
			}
		}
	}
	return out, nil
}

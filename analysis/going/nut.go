package going

import (
	"fmt"
	"math"

	"evenbeat/analysis/pendulum"
	"evenbeat/devices/quantity"
)

// Sources of the effect of a turn.
const (
	fromRecord   = "record"
	fromGeometry = "geometry"
)

// leastTurn is the smallest turn worth making by hand (common practice, no source).
const leastTurn = 0.05

// geometryShare is the limit of error, as a share, of a nut's effect by pitch and length.
// Threads differ from their nominal pitch, and a heavy rod that stays in place makes each
// turn do a few per cent less (common practice, no source).
const geometryShare = 0.05

// nut returns the effect of a turn: from the record where turns were noted and the rate
// is known on both sides, else from the thread, whichever is more certain. The sentences
// say which and why.
func (in In) nut(tl *timeline) (*Nut, []string) {
	var why []string
	geometry, byThread := in.geometry()
	turned := false
	for _, a := range tl.acts {
		turned = turned || a.turned()
	}
	if turned {
		p := tl.weigh(tl.base(true))
		if len(p.estimates) > 0 {
			per := p.linear(unit(len(p.obs.priors), 1))
			switch {
			case per.V-per.Half95() > 0:
				if byThread && geometry.PerTurn.Half95() < per.Half95() && per.Covers(geometry.PerTurn.V) {
					why = append(why, fmt.Sprintf("A turn of the nut did %s by the record, which agrees with its thread (%s); the thread is the more certain.",
						per.Signed("s/day"), geometry.PerTurn.Signed("s/day")))
					return geometry, why
				}
				why = append(why, fmt.Sprintf("A turn of the nut does %s, by the rates before and after it was turned.", per.Signed("s/day")))
				return &Nut{PerTurn: per, Source: fromRecord}, why
			case per.V+per.Half95() < 0:
				why = append(why, fmt.Sprintf("By the record a turn noted as gaining made the clock lose (%s a turn): was the sign of the turns noted the wrong way round?", per.Signed("s/day")))
			default:
				why = append(why, fmt.Sprintf("The nut was turned, but what a turn does can't be told from the record yet (%s a turn).", per.Signed("s/day")))
			}
		}
	}
	if byThread {
		why = append(why, fmt.Sprintf("A turn of the nut does %s, reckoned from its thread of %.3f mm and the pendulum's length of %.0f mm; a heavy rod makes it a little less.",
			geometry.PerTurn.Signed("s/day"), in.NutPitch*1e3, in.Length.V*1e3))
		return geometry, why
	}
	return nil, why
}

func unit(n, i int) []float64 {
	c := make([]float64, n)
	c[i] = 1
	return c
}

func (in In) geometry() (*Nut, bool) {
	if in.Balance || !(in.NutPitch > 0) || !(in.Length.V > 0) {
		return nil, false
	}
	per, err := pendulum.NutPerTurn(in.NutPitch, in.Length)
	if err != nil {
		return nil, false
	}
	u := math.Hypot(per.U, geometryShare/math.Sqrt(3)*per.V)
	return &Nut{PerTurn: quantity.Value{V: per.V, U: u}, Source: fromGeometry}, true
}

// advise fills in the turns that bring the rate to zero. The interval holds the
// uncertainty of the rate and of the turn, and the wandering of the mean rate over the
// coming week, which no turn cures. It reports whether turning is worthwhile.
func (n *Nut) advise(rate quantity.Value, wander float64) bool {
	turns := -rate.V / n.PerTurn.V
	u := math.Hypot(math.Hypot(rate.U, wander)/n.PerTurn.V, turns*n.PerTurn.U/n.PerTurn.V)
	advice := quantity.Value{V: turns, U: math.Abs(u)}
	if !advice.Finite() {
		return false
	}
	n.Advice = &advice
	return math.Abs(turns) >= leastTurn && !advice.Covers(0)
}

package periodic

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/analysis/beat/robust"
	"evenbeat/devices/quantity"
)

const (
	// accuseTooth is the chance that a wheel without error has a tooth accused.
	accuseTooth = 1e-4
	// standsOut is by how many standard deviations of the other teeth a bent tooth
	// lies off: teeth cut by hand differ from one another, and the worst of them is
	// not bent for that.
	standsOut = 6
	// mostBent places are taken for bent teeth; of more the wheel is uneven.
	mostBent = 6
	// fewestPlaces of a turn, and fewestTurns of it, make a tooth's error.
	fewestPlaces, fewestTurns = 12, 2 * LeastTurns
	// leastTurnsUnheard before a tooth is called unheard.
	leastTurnsUnheard = 12
)

// Kinds of tooth.
const (
	ToothBent    = "bent"    // it alone lies off the others
	ToothWorst   = "worst"   // it lies off farthest, and others lie off too
	ToothUnheard = "unheard" // its beats are missed turn after turn
)

// Tooth is a tooth of the escape wheel that lies off.
type Tooth struct {
	Tooth       int            `json:"tooth"`       // counted from the first heard (1)
	Beats       []int          `json:"beats"`       // its beats within the turn, the first heard being 0
	Kind        string         `json:"kind"`        // ToothBent, ToothWorst or ToothUnheard
	Late        quantity.Value `json:"late_s"`      // time error, plus = late; of the mean of its beats, none for ToothUnheard
	Significant bool           `json:"significant"` // more than chance explains

	Residuals []float64 `json:"-"` // how far each place lies off, seconds; nil for ToothUnheard
	More      int       `json:"-"` // beats found off besides
	Outlying  bool      `json:"-"` // its beats were taken for spurious
}

// FindTooth names the tooth of the escape wheel that lies farthest off, nil where the
// wheel turned too seldom.
//
// What an eccentric wheel makes, once and twice a turn, and the levels of ticks and tocks
// are fitted to the places' means. A place is judged by its distance from that fit over
// its own standard uncertainty, by Student's distribution, allowing for the choice of the
// farthest of so many places. A tooth meets the entry pallet and, less than half
// a turn and an odd number of beats later, the exit pallet: two such places off the
// same way are one tooth.
func FindTooth(ps []Place, turns float64, beatsPerTooth int) *Tooth {
	if len(ps) < fewestPlaces || turns < fewestTurns {
		return nil
	}
	t := unheard(ps, turns)
	if t == nil {
		t = bent(ps)
	}
	if t != nil {
		t.Tooth = t.Beats[0]/beatsPerTooth + 1
	}
	return t
}

// bent names the tooth that lies off while the others don't, or the worst of all.
func bent(ps []Place) *Tooth {
	off := make([]bool, len(ps))
	var found []int
	for len(found) <= mostBent {
		r, ok := residuals(ps, off)
		if !ok {
			return nil
		}
		at := farthest(ps, r, off)
		if at < 0 || !significant(ps[at], r[at], len(ps)) || math.Abs(r[at]) < standsOut*others(ps, r, off, at) {
			break
		}
		off[at] = true
		found = append(found, at)
	}
	if len(found) == 0 || len(found) > mostBent {
		return worst(ps)
	}
	r, ok := residuals(ps, off)
	if !ok {
		return nil
	}
	t := toothAt(found[0], ToothBent, ps, r)
	if second, first := partner(found, r); second >= 0 {
		t = toothAt(first, ToothBent, ps, r)
		t.Beats = []int{first, second}
		t.Late.V = (r[first] + r[second]) / 2
		t.Late.U = math.Hypot(ps[first].U, ps[second].U) / 2
	}
	t.Significant = true
	t.Outlying = ps[found[0]].Outliers > 0
	t.More = len(found) - len(t.Beats)
	return t
}

// partner finds the other beat of the tooth whose beat was found first. It returns the
// one at the exit pallet and the one at the entry pallet, −1 where there is none.
func partner(found []int, r []float64) (second, first int) {
	size := len(r)
	for _, q := range found[1:] {
		p := found[0]
		if ratio := r[q] / r[p]; (q-p)&1 == 0 || !(ratio > 0.4 && ratio < 2.5) {
			continue
		}
		if d := (q - p + size) % size; 2*d < size {
			return q, p
		}
		return p, q
	}
	return -1, -1
}

// worst names the place that is farthest off: the greatest distance among significant
// ones, or else the greatest in units of its uncertainty.
func worst(ps []Place) *Tooth {
	none := make([]bool, len(ps))
	r, ok := residuals(ps, none)
	if !ok {
		return nil
	}
	at := farthest(ps, r, none)
	if at < 0 {
		return nil
	}
	sure := significant(ps[at], r[at], len(ps))
	for i, p := range ps {
		if sure && math.Abs(r[i]) > math.Abs(r[at]) && significant(p, r[i], len(ps)) {
			at = i
		}
	}
	t := toothAt(at, ToothWorst, ps, r)
	t.Significant = sure
	return t
}

func toothAt(at int, kind string, ps []Place, r []float64) *Tooth {
	k := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Max(1, ps[at].N-1)}.Quantile(0.975)
	return &Tooth{Beats: []int{at}, Kind: kind, Residuals: r, Late: quantity.Value{V: r[at], U: ps[at].U, K: k}}
}

// unheard names the tooth that is missed turn after turn while the others are heard.
func unheard(ps []Place, turns float64) *Tooth {
	if turns < leastTurnsUnheard {
		return nil
	}
	at, least, sum := -1, turns, 0.0
	for i, p := range ps {
		sum += math.Min(p.N, turns)
		if p.N < least {
			at, least = i, p.N
		}
	}
	heard := (sum - least) / (turns * float64(len(ps)-1))
	if at < 0 || heard < 0.7 || least > 0.2*turns {
		return nil
	}
	if p := (distuv.Binomial{N: turns, P: heard}).CDF(least); p*float64(len(ps)) > accuseTooth {
		return nil
	}
	return &Tooth{Beats: []int{at}, Kind: ToothUnheard, Significant: true}
}

// significant reports whether a place is off by more than chance explains for the
// farthest of so many.
func significant(p Place, off float64, places int) bool {
	if !(p.U > 0) || p.N < 2*leastInPlace {
		return false
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: p.N - 1}
	return 2*t.Survival(math.Abs(off)/p.U)*float64(places) < accuseTooth
}

// farthest returns the place farthest off for its uncertainty, −1 for none.
func farthest(ps []Place, r []float64, off []bool) int {
	at, most := -1, 0.0
	for i, p := range ps {
		if off[i] || !p.Known() || !(p.U > 0) {
			continue
		}
		if t := math.Abs(r[i]) / p.U; t > most {
			at, most = i, t
		}
	}
	return at
}

// others returns the standard deviation of the residuals of all places but one and
// those already off; a robust one, so that a second bent tooth doesn't hide the first.
func others(ps []Place, r []float64, off []bool, but int) float64 {
	var dev []float64
	for i, p := range ps {
		if i != but && !off[i] && p.Known() {
			dev = append(dev, math.Abs(r[i]))
		}
	}
	return robust.Deviation(dev)
}

// residuals returns how far each place lies from what an eccentric wheel makes of the
// turn: ticks' and tocks' own level, and waves of one and two to a turn, fitted to
// the places that aren't off.
func residuals(ps []Place, off []bool) ([]float64, bool) {
	size := len(ps)
	levels := 2 - size&1 // of a turn with an odd number of beats there is but one
	cols := levels + 4
	rows, w, out := make([]float64, size*cols), make([]float64, size), make([]float64, size)
	used := 0
	for i, p := range ps {
		row := rows[i*cols : (i+1)*cols]
		row[i%levels] = 1
		for j := range 2 {
			row[levels+2*j+1], row[levels+2*j] = math.Sincos(2 * float64(j+1) * math.Pi * float64(i) / float64(size))
		}
		out[i] = p.V
		if !off[i] && p.Known() {
			w[i] = 1
			used++
		}
	}
	_, _, b, ok := leastSquares(rows, cols, w, out)
	if used < cols+4 || !ok {
		return nil, false
	}
	for i := range out {
		for j, v := range b {
			out[i] -= v * rows[i*cols+j]
		}
	}
	return out, true
}

package beat

import (
	"cmp"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/analysis/train"
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
	// leastTurnsUnheard before a tooth is called unheard.
	leastTurnsUnheard = 12
)

// Kinds of tooth.
const (
	ToothBent    = "bent"    // it alone lies off the others
	ToothWorst   = "worst"   // it lies off farthest, and others lie off too
	ToothUnheard = "unheard" // its beats are missed turn after turn
)

// tooth names the tooth of the escape wheel that lies farthest off, nil where the
// wheel isn't known or turned too seldom.
//
// Against the places' means stands what an eccentric wheel makes of them (once and
// twice a turn) with ticks and tocks apart; a place is judged by its distance from
// that over its own standard uncertainty, by Student's distribution with the chance
// of the best of so many places. A tooth meets the entry pallet and, less than half
// a turn and an odd number of beats later, the exit pallet: two such places off the
// same way are one tooth.
func (a *Analyser) tooth(ps []place, turns float64) *Tooth {
	if len(ps) < 12 || turns < 2*leastTurns {
		return nil
	}
	if t := a.unheard(ps, turns); t != nil {
		return t
	}
	off := make([]bool, len(ps))
	var found []int
	for len(found) <= mostBent {
		r, ok := apart(ps, off)
		if !ok {
			return nil
		}
		at := farthest(ps, r, off)
		if at < 0 || !significant(ps, at, r) || math.Abs(r[at]) < standsOut*others(ps, r, off, at) {
			break
		}
		off[at] = true
		found = append(found, at)
	}
	if len(found) == 0 || len(found) > mostBent {
		return a.worst(ps)
	}
	r, ok := apart(ps, off)
	if !ok {
		return nil
	}
	t := a.named(found[0], ToothBent, ps, r)
	t.Significant = true
	if second, first := a.partner(found, r); second >= 0 {
		t = a.named(first, ToothBent, ps, r)
		t.Significant = true
		t.Beats = []int{first, second}
		t.Late.V = (r[first] + r[second]) / 2
		t.Late.U = math.Hypot(ps[first].u, ps[second].u) / 2
	}
	t.torn = ps[found[0]].torn > 0
	t.more = len(found) - len(t.Beats)
	return t
}

// partner finds the other beat of the tooth whose beat lies farthest off, among
// those found: which is the first, at the entry pallet, and which the second. −1
// where there is none.
func (a *Analyser) partner(found []int, r []float64) (second, first int) {
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

// worst names the place that lies farthest off: of those that lie off for certain, by
// its distance; where none does, for its uncertainty.
func (a *Analyser) worst(ps []place) *Tooth {
	none := make([]bool, len(ps))
	r, ok := apart(ps, none)
	if !ok {
		return nil
	}
	at := farthest(ps, r, none)
	if at < 0 {
		return nil
	}
	sure := significant(ps, at, r)
	for i := range ps {
		if sure && math.Abs(r[i]) > math.Abs(r[at]) && significant(ps, i, r) {
			at = i
		}
	}
	t := a.named(at, ToothWorst, ps, r)
	t.Significant = sure
	return t
}

func (a *Analyser) named(at int, kind string, ps []place, r []float64) *Tooth {
	return &Tooth{Tooth: at/a.o.beatsPerTooth() + 1, Beats: []int{at}, Kind: kind, apart: r,
		Late: quantity.Value{V: r[at], U: ps[at].u, K: student95(ps[at].n - 1)}}
}

// unheard names the tooth that is missed turn after turn while the others are heard.
func (a *Analyser) unheard(ps []place, turns float64) *Tooth {
	if turns < leastTurnsUnheard {
		return nil
	}
	at, least, sum := -1, turns, 0.0
	for i, p := range ps {
		sum += math.Min(p.n, turns)
		if p.n < least {
			at, least = i, p.n
		}
	}
	heard := (sum - least) / (turns * float64(len(ps)-1))
	if at < 0 || heard < 0.7 || least > 0.2*turns {
		return nil
	}
	if p := (distuv.Binomial{N: turns, P: heard}).CDF(least); p*float64(len(ps)) > accuseTooth {
		return nil
	}
	return &Tooth{Tooth: at/a.o.beatsPerTooth() + 1, Beats: []int{at}, Kind: ToothUnheard, Significant: true}
}

func (o Options) beatsPerTooth() int { return cmp.Or(o.BeatsPerTooth, train.UsualBeatsPerTooth) }

func student95(freedom float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: math.Max(1, freedom)}.Quantile(0.975)
}

// significant reports whether a place lies off by more than chance lets the
// farthest of all lie.
func significant(ps []place, at int, r []float64) bool {
	p := ps[at]
	if !(p.u > 0) || p.n < 2*leastInPlace {
		return false
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: p.n - 1}
	return 2*t.Survival(math.Abs(r[at])/p.u)*float64(len(ps)) < accuseTooth
}

// farthest returns the place farthest off for its uncertainty, −1 for none.
func farthest(ps []place, r []float64, off []bool) int {
	at, most := -1, 0.0
	for i, p := range ps {
		if off[i] || p.n < leastInPlace || !(p.u > 0) {
			continue
		}
		if t := math.Abs(r[i]) / p.u; t > most {
			at, most = i, t
		}
	}
	return at
}

// others returns the standard deviation by which the places other than one and
// those already off lie off, by the median so that a second bent tooth doesn't
// hide the first.
func others(ps []place, r []float64, off []bool, but int) float64 {
	var dev []float64
	for i, p := range ps {
		if i != but && !off[i] && p.n >= leastInPlace {
			dev = append(dev, math.Abs(r[i]))
		}
	}
	return 1.4826 * median(dev)
}

// apart returns how far each place lies from what an eccentric wheel makes of the
// turn: ticks' and tocks' own level, and waves of one and two to a turn, fitted to
// the places that aren't off.
func apart(ps []place, off []bool) ([]float64, bool) {
	const cols = 6
	size := len(ps)
	row := func(i int) [cols]float64 {
		s1, c1 := math.Sincos(2 * math.Pi * float64(i) / float64(size))
		s2, c2 := math.Sincos(4 * math.Pi * float64(i) / float64(size))
		if size&1 == 0 && i&1 != 0 {
			return [cols]float64{0, 1, c1, s1, c2, s2}
		}
		return [cols]float64{1, 0, c1, s1, c2, s2}
	}
	sym, rhs := mat.NewSymDense(cols, nil), mat.NewVecDense(cols, nil)
	used := 0
	for i, p := range ps {
		if off[i] || p.n < leastInPlace {
			continue
		}
		used++
		v := row(i)
		for a := range cols {
			rhs.SetVec(a, rhs.AtVec(a)+v[a]*p.v)
			for b := a; b < cols; b++ {
				sym.SetSym(a, b, sym.At(a, b)+v[a]*v[b])
			}
		}
	}
	if size&1 != 0 {
		sym.SetSym(1, 1, 1) // there is but one level
	}
	var ch mat.Cholesky
	var b mat.VecDense
	if used < cols+4 || !ch.Factorize(sym) || ch.Cond() > 1e6 || ch.SolveVecTo(&b, rhs) != nil {
		return nil, false
	}
	out := make([]float64, size)
	for i, p := range ps {
		out[i] = p.v
		v := row(i)
		for j := range cols {
			out[i] -= b.AtVec(j) * v[j]
		}
	}
	return out, true
}

// CountedFrom says which tooth is the first: a break loses the place on the wheel, so
// that of several pieces the one of most turns alone is counted.
func (r Result) CountedFrom() string {
	if r.Segments > 1 {
		return "the first heard of the longest piece"
	}
	return "the first heard"
}

// sayTooth tells of the tooth.
func sayTooth(r *Result) {
	t := r.Tooth
	if t == nil || !t.Significant {
		return
	}
	late, way := t.Late, "late"
	if late.V < 0 {
		late.V, way = -late.V, "early"
	}
	by, from := late.Scale(1e3).Text("ms"), r.CountedFrom()
	switch t.Kind {
	case ToothUnheard:
		r.Reasons = append(r.Reasons, fmt.Sprintf("The beat of tooth %d of the escape wheel, counted from %s, is missed turn after turn.", t.Tooth, from))
		r.Next = append(r.Next, fmt.Sprintf("Look at tooth %d of the escape wheel: worn, broken or bent so that it drops without a sound.", t.Tooth))
		return
	case ToothWorst:
		r.Reasons = append(r.Reasons, fmt.Sprintf("The teeth of the escape wheel are uneven: the farthest off is tooth %d, counted from %s, %s by %s.", t.Tooth, from, way, by))
		return
	}
	text := fmt.Sprintf("One tooth of the escape wheel is off, the others are even: tooth %d, counted from %s, drops %s by %s", t.Tooth, from, way, by)
	if len(t.Beats) > 1 {
		between := (t.Beats[1] - t.Beats[0] + len(t.apart)) % len(t.apart)
		text += fmt.Sprintf(", at one pallet and %d beats later at the other", between)
	}
	text += "."
	if t.more > 0 {
		text += fmt.Sprintf(" %d more %s off.", t.more, plural(t.more, "beat of the turn lies", "beats of the turn lie"))
	}
	if t.torn {
		text += " It lies so far off that its beats are counted as missed and what was heard as spurious."
	}
	r.Reasons = append(r.Reasons, text)
	r.Next = append(r.Next, fmt.Sprintf("Look at tooth %d of the escape wheel: bent, worn or burred. Mark the tooth that drops as listening begins and count on from it.", t.Tooth))
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

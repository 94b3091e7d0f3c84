package periodic

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/analysis/beat/numbering"
	"evenbeat/devices/quantity"
)

// sameTooth is how far apart in the turn, in beats, runs that one tooth makes may lie:
// the edges of a run lie in the scatter.
const sameTooth = 3

// TrainTooth is a tooth of a wheel before the escape wheel, or a leaf of a pinion, that
// throws the beats off for as long as it is in mesh, once in each turn of its arbor.
type TrainTooth struct {
	Arbor   int            `json:"arbor"`    // from the barrel (1)
	Name    string         `json:"name"`     // of the arbor
	PeriodS float64        `json:"period_s"` // of a turn, in the clock's own time
	Beats   int            `json:"beats"`    // of a turn, that are off
	Turns   int            `json:"turns"`    // in which they were
	Late    quantity.Value `json:"late_s"`   // their time error, plus = late
}

// FindTrainTooth names the arbor with whose turns runs of beats that are off come back;
// nil for none. nominal is the clock's own interval, seconds.
//
// The quickest arbor is taken of which half the turns or more have such a run at one
// place. Runs that come anywhere fall within sameTooth of a given one by a binomial
// chance. It must be below accuseTooth, allowing for the choice of run and arbor.
func FindTrainTooth(arbors []Arbor, off *numbering.Outliers, nominal float64) *TrainTooth {
	runs := off.Runs()
	if len(runs) < LeastTurns {
		return nil
	}
	quickest := slices.SortedFunc(slices.Values(arbors), func(a, b Arbor) int { return cmp.Compare(a.BeatsPerTurn, b.BeatsPerTurn) })
	for _, a := range quickest {
		same := atOnePlace(runs, a.BeatsPerTurn)
		turns := (runs[len(runs)-1].Middle()-runs[0].Middle())/a.BeatsPerTurn + 1
		b := distuv.Binomial{N: float64(len(runs) - 1), P: min(1, (2*sameTooth+1)/a.BeatsPerTurn)}
		chance := 1 - b.CDF(float64(len(same)-2))
		if len(same) < LeastTurns || float64(len(same)) < turns/2 || chance*float64(len(runs)*len(arbors)) > accuseTooth {
			continue
		}
		return &TrainTooth{Arbor: a.Index, Name: a.Name, PeriodS: a.BeatsPerTurn * nominal, Beats: typicalLength(same), Turns: len(same), Late: late(same)}
	}
	return nil
}

// atOnePlace returns the most runs that lie together in a turn of so many beats.
func atOnePlace(runs []numbering.Run, turn float64) []numbering.Run {
	var most []numbering.Run
	for _, r := range runs {
		var same []numbering.Run
		for _, o := range runs {
			if math.Abs(math.Remainder(o.Middle()-r.Middle(), turn)) <= sameTooth {
				same = append(same, o)
			}
		}
		if len(same) > len(most) {
			most = same
		}
	}
	return most
}

func typicalLength(runs []numbering.Run) int {
	sorted := slices.SortedFunc(slices.Values(runs), func(a, b numbering.Run) int { return cmp.Compare(a.N, b.N) })
	return sorted[len(sorted)/2].N
}

// late returns the mean time error of the runs' means, by Student's distribution.
func late(runs []numbering.Run) quantity.Value {
	means := make([]float64, len(runs))
	for i, r := range runs {
		means[i] = r.Sum / float64(r.N)
	}
	n := float64(len(means))
	mean, sd := stat.MeanStdDev(means, nil)
	return quantity.Value{V: mean, U: sd / math.Sqrt(n), K: distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile(0.975)}
}

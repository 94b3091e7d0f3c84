package plots

import (
	"slices"
	"strings"
	"testing"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"
)

// toothExample is beatExample with a tooth of the escape wheel off at some beats of the
// turn, as far as analysis would name it.
func toothExample(kind string, sure bool, tooth int, late float64, beats ...int) *beat.Result {
	r := beatExample()
	r.Tooth = &beat.Tooth{Tooth: tooth, Beats: beats, Kind: kind, Significant: sure, Late: quantity.Value{V: late, U: 0.00001}}
	for i := range r.Fold {
		r.Fold[i].WaveS = r.Fold[i].ResidualS.V
		if slices.Contains(beats, r.Fold[i].Place) {
			r.Fold[i].ResidualS.V += late
		}
	}
	if kind == beat.ToothUnheard {
		r.Tooth.Late = quantity.Value{}
		r.Fold = slices.Delete(r.Fold, beats[0], beats[0]+1)
	}
	return r
}

// The tooth that analysis names is named in the title and at its mark, and no other
// number is; where none is established, none is.
func TestToothIsNamedAndMarked(t *testing.T) {
	broken := toothExample(beat.ToothBent, true, 12, 0.003, 22, 37)
	broken.Segments = 1
	for name, tt := range map[string]struct {
		r     *beat.Result
		title string
		drawn []string
	}{
		"both pallets": {broken, "Tooth 12 of the escape wheel drops late by 3.0 ms; a periodic error goes with the escape arbor",
			[]string{"tooth 12, at both pallets", "tooth of the escape wheel, counted from the first heard"}},
		"one": {toothExample(beat.ToothBent, true, 30, -0.002, 59), "Tooth 30 of the escape wheel drops early by 2.0 ms;",
			[]string{"tooth 30", "tooth of the escape wheel, counted from the first heard of the longest stretch"}},
		"over the end": {toothExample(beat.ToothBent, true, 30, 0.002, 59, 14), "Tooth 30 of", []string{"tooth 30, at both pallets"}},
		"worst": {toothExample(beat.ToothWorst, true, 1, 0.0005, 0), "The teeth of the escape wheel are uneven, tooth 1 most: late by 0.50 ± 0.02 ms;",
			[]string{"tooth 1", "an eccentric wheel's wave, tick and tock"}},
		"unheard":  {toothExample(beat.ToothUnheard, true, 12, 0, 22), "Tooth 12 of the escape wheel is missed turn after turn;", []string{"tooth 12: not heard"}},
		"not sure": {toothExample(beat.ToothWorst, false, 12, 0.00001, 22), "A periodic error goes with the escape arbor", nil},
		"no train": {beatExample(), "A periodic error goes with the escape arbor", nil},
	} {
		t.Run(name, func(t *testing.T) {
			fig := mustDraw(t, "wheels", Findings{Rate: tt.r})
			all := placed(t, mustSVG(t, fig))
			drawn := make([]string, len(all))
			for i, p := range all {
				drawn[i] = p.words
			}
			if !strings.HasPrefix(fig.Title, tt.title) {
				t.Errorf("title %q, want %q", fig.Title, tt.title)
			}
			for _, w := range tt.drawn {
				if !slices.Contains(drawn, w) {
					t.Errorf("%q isn't in the drawing: %q", w, drawn)
				}
			}
			accused := slices.ContainsFunc(drawn, func(s string) bool { return strings.HasPrefix(s, "tooth ") && !strings.HasPrefix(s, "tooth of") })
			if accused != (tt.drawn != nil) || strings.Contains(fig.Desc, "marked") != accused {
				t.Errorf("a tooth is accused: %t, want %t: %q, %q", accused, tt.drawn != nil, drawn, fig.Desc)
			}
			if says := strings.Contains(fig.Note, "No tooth stands out"); says != (name == "not sure") {
				t.Errorf("it says that no tooth stands out: %t: %q", says, fig.Note)
			}
			staysInside(t, fig, all)
			apart(t, "wheels", all)
		})
	}
}

package spring

import (
	"cmp"
	"fmt"
	"slices"

	"evenbeat/analysis/uncertainty"
)

// finer is what an input could be measured with more finely, and the limit of error: a
// micrometer to DIN 863 up to 50 mm, 4 µm; the others common practice, no
// source.
var finer = map[string]struct {
	limit float64
	with  string
	of    string // what the limit is of, where that needs saying
}{
	"strip":  {4e-6, "a micrometer", ""},
	"arbor":  {4e-6, "a micrometer", ""},
	"bore":   {10e-6, "an inside micrometer or bore gauge", ""},
	"inner":  {50e-6, "inside jaws at several angles", " on the mean"},
	"length": {1e-3, "a steel rule along the whole strip, held down flat", ""},
	"coils":  {0.05, "a second count along another radius", " coils"},
}

// budget returns each input's share of the variance of the fill, greatest first, and for
// large shares how to measure better.
func budget(in Input, b base) []BudgetLine {
	shares, err := uncertainty.Budget(b.in, b.sum(sizes.fill))
	if err != nil {
		return nil
	}
	now := b.value("fill", sizes.fill)
	if now == nil {
		return nil
	}
	var out []BudgetLine
	for _, s := range shares {
		if s.Input == "strip" && in.Strip == nil {
			continue
		}
		line := BudgetLine{Input: s.Input, Share: s.Share, Cause: s.Cause}
		if f, ok := finer[s.Input]; ok && s.Share >= 0.1 {
			limit := "±" + sizeText(in.Units, f.limit)
			if s.Input == "coils" {
				limit = fmt.Sprintf("±%g", f.limit)
			}
			line.Better = better(b, s, now.Half95(), f.limit, fmt.Sprintf("%s (%s%s)", f.with, limit, f.of))
		}
		out = append(out, line)
	}
	slices.SortStableFunc(out, func(x, y BudgetLine) int { return cmp.Compare(y.Share, x.Share) })
	return out
}

// better says what a finer measurement of one input would do for the fill, or nothing if
// the improvement is below a tenth.
func better(b base, s uncertainty.Share, now, limit float64, with string) string {
	v := b.with(s.Input, limit).value("fill", sizes.fill)
	if v == nil || v.Half95() > 0.9*now {
		return ""
	}
	what := "measure the " + s.Input + " with " + with
	if s.Cause == uncertainty.CauseScatter {
		what = "take more readings of the " + s.Input + ", which differ most, with " + with
	}
	return fmt.Sprintf("%s: the fill would be sure to ±%.2g %% instead of ±%.2g %%", what, 100*v.Half95(), 100*now)
}

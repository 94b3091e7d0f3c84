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
	for _, s := range grouped(b, shares) {
		if s.Input == "strip" && (in.Strip == nil || s.Share == 0) {
			continue
		}
		line := BudgetLine{Input: s.Input, Share: s.Share, Cause: s.Cause}
		if s.Input == packing && s.Share >= 0.1 {
			line.Better = "measure the length of the strip itself once the spring is out: oil and air between the coils are no part of that"
		}
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

// grouped puts inputs that share errors into one line, if those of one take away from
// another's: nobody can read a share below 0 or above 1.
func grouped(b base, shares []uncertainty.Share) []uncertainty.Share {
	var out []uncertainty.Share
	done := make([]bool, len(shares))
	for i := range shares {
		if done[i] {
			continue
		}
		group := together(b, i)
		if !slices.ContainsFunc(group, func(k int) bool { return shares[k].Share < 0 }) {
			out = append(out, shares[i])
			continue
		}
		var line uncertainty.Share
		most := 0.0
		for n, k := range group {
			done[k] = true
			if n > 0 {
				line.Input += " with "
			}
			line.Input += shares[k].Input
			line.Share += shares[k].Share
			if shares[k].Share > most {
				most, line.Cause = shares[k].Share, shares[k].Cause
			}
		}
		out = append(out, line)
	}
	return out
}

// together returns the inputs that share an error with input i, itself among them, by one
// step or several.
func together(b base, i int) []int {
	in := []int{i}
	for n := 0; n < len(in); n++ {
		for k := range b.in {
			if !slices.Contains(in, k) && shareError(b.in[in[n]], b.in[k]) {
				in = append(in, k)
			}
		}
	}
	slices.Sort(in)
	return in
}

func shareError(x, y uncertainty.Quantity) bool {
	return slices.ContainsFunc(x.Sources, func(s uncertainty.Source) bool {
		return s.Key != "" && slices.ContainsFunc(y.Sources, func(o uncertainty.Source) bool { return o.Key == s.Key })
	})
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
	return fmt.Sprintf("%s: the fill would be known to ±%.2g %% instead of ±%.2g %%", what, 100*v.Half95(), 100*now)
}

package render

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/parts"
	"evenbeat/analysis/stability"
	"evenbeat/devices/quantity"
)

// many returns n sentences of several lines each.
func many(n int, what string) (all []string) {
	for i := range n {
		all = append(all, fmt.Sprintf("%s number %d: %s", what, i+1, strings.TrimSpace(strings.Repeat("it goes on and on ", 9))))
	}
	return all
}

// More findings than any clock has still make one screen, and the cautions, the answer
// and the last line are there.
func TestMuchFitsOneScreen(t *testing.T) {
	v := quantity.Value{V: 1.234, U: 0.1}
	r := beat.Result{Rate: beat.Rate{Value: quantity.Value{V: 1, U: 0.1}}, Warnings: many(12, "Warning"), Next: many(12, "Next"),
		Amplitude: &v, CircularError: &v, Pendulum: &beat.Pendulum{Difference: v}, Segments: 9,
		Tooth: &beat.Tooth{Tooth: 12, Kind: beat.ToothBent, Significant: true, Late: v}}
	g := going.Result{Checks: 400, SpanDays: 400, MeanRate: &v, RateNow: &v, ErrorNow: &v, Trend: &v, Forecast: &v,
		Reasons: many(20, "Reason"), Matters: many(9, "Matter"), Next: many(9, "Next"), Nut: &going.Nut{PerTurn: v, Source: "record", Advice: &v},
		Turned: "Turning the nut was to bring much; it brought more."}
	var s stability.Result
	var fits []parts.Result
	for i := range 40 {
		r.Wheels = append(r.Wheels, beat.Wheel{Arbor: i, Name: fmt.Sprint("arbor", i), PeriodS: 60, Amplitude: v, Significant: true})
		r.Periods = append(r.Periods, beat.Period{Beats: v, PeriodS: 60, Amplitude: v})
		g.Segments = append(g.Segments, going.Segment{Rate: v, After: "adjusted"})
		g.Factors = append(g.Factors, going.Factor{Name: "temperature", PerUnit: v, Unit: "K", Significant: true})
		s.Rows = append(s.Rows, stability.Row{TauS: float64(int64(1) << i), OADev: &v.V, Low: &v.V, High: &v.V, Noise: "random walk frequency"})
		fits = append(fits, parts.Result{What: "pivot in its bush", Part: fmt.Sprint("arbor ", i), Verdict: []parts.Verdict{parts.Good, parts.Bad, parts.CannotTell}[i%3],
			Reasons: many(3, "Reason"), Cautions: many(2, "Caution"), Next: many(2, "Next")})
	}
	s.Warnings = many(9, "Warning")
	for name, write := range map[string]func(*bytes.Buffer) error{
		"rate":      func(b *bytes.Buffer) error { return Rate(b, strings.Repeat("Hall ", 40), r, false) },
		"going":     func(b *bytes.Buffer) error { return Going(b, strings.Repeat("Hall ", 40), g, time.UTC, false) },
		"stability": func(b *bytes.Buffer) error { return Stability(b, "Hall: the steadiness", s, 3, false) },
		"fit":       func(b *bytes.Buffer) error { return Fits(b, "Hall: how its parts fit", fits, quantity.Both, false) },
	} {
		var out bytes.Buffer
		if err := write(&out); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
		if len(lines) > screenLines {
			t.Errorf("%s: %d lines\n%s", name, len(lines), &out)
		}
		for _, l := range lines {
			if utf8.RuneCountInString(l) > Width {
				t.Errorf("%s: too wide: %s", name, l)
			}
		}
		if last := lines[len(lines)-1]; !strings.Contains(last, "evenbeat "+name+" --full shows") {
			t.Errorf("%s: the last line is %q", name, last)
		}
		said := strings.Join(strings.Fields(out.String()), " ")
		for _, want := range map[string][]string{
			"rate": {"The clock gains 1.00 ± 0.20 s/day.", r.Warnings[0]}, "going": {g.Reasons[0] + " " + g.Turned}, "stability": {"or longer than this run can tell"},
			"fit": {"14 of 40 are good.", many(2, "Caution")[0], many(2, "Caution")[1], "not good"},
		}[name] {
			if !strings.Contains(said, want) {
				t.Errorf("%s: %q is left out\n%s", name, want, &out)
			}
		}
	}
}

func TestWrap(t *testing.T) {
	got := strings.Join(wrap("The bore is 45.00 ± 0.04 mm wide, a turn 24 h (1 day), in it are 8 in all.", 20), "|")
	if want := "The bore is|45.00 ± 0.04 mm|wide, a turn 24 h (1|day), in it are 8 in|all."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := wrap("", 20); len(got) != 1 || got[0] != "" {
		t.Errorf("nothing is wrapped as %q", got)
	}
}

// A name with tabs and bytes that are no text must not shift the columns.
func TestTable(t *testing.T) {
	got := strings.Join(table(2, []string{"name", "turns"}, [][]string{{"a\tb\xff", "8.85"}, {"längest", "1"}}), "|")
	if want := "  name     turns|  a b�     8.85|  längest  1"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

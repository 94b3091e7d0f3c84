package main

import (
	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/parts"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

func newFitCmd(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "fit",
		Short: "Do the measured pivots, wheels and pendulums fit?",
		Long: `Judge the parts measured by the plans pivot, bushing, wheel and pendulum, or by plans
of your own with such a finding: a pivot in its bush, a wheel and the pinion it drives,
a pendulum against the length that its train needs.

To judge several pivots, measure each pivot and its bush under a part of its own:
--part "second arbor, front".`,
		Example: `  evenbeat measure --plan pivot --part "second arbor, front" --port auto
  evenbeat measure --plan bushing --part "second arbor, front" --port auto
  evenbeat fit`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				rec, err := b.Record(c.Context(), clock.ID, book.Sessions, book.Readings)
				if err != nil {
					return err
				}
				found, err := a.findFits(a.byPlans(rec))
				if err != nil {
					return err
				}
				if a.asJSON {
					return a.answer(clock.Name, fitList{found})
				}
				return render.Fits(a.out, clock.Name+": how its parts fit", found, a.units(), a.full)
			})
		},
	}
	a.clockFlag(c)
	a.fullFlag(c)
	return c
}

// fitList is the answer in JSON.
type fitList struct {
	Fits []parts.Result `json:"fits"` // of each part that was measured
}

// findFits judges the parts in a record read by plans, by the limits in the settings.
func (a *app) findFits(rec sessions.Record) ([]parts.Result, error) {
	s := a.loaded.Settings
	g, err := a.gravity()
	if err != nil {
		return nil, err
	}
	return analysis.Fits(rec, analysis.PartsOptions{
		Pivot: parts.PivotLimits{ClearanceLow: s.Pivot.ClearanceLow, ClearanceHigh: s.Pivot.ClearanceHi,
			OutOfRound: s.Pivot.OutOfRoundMM * 1e-3, Taper: s.Pivot.TaperMM * 1e-3},
		Wheel:   parts.WheelLimits{ModuleApart: s.Wheel.ModuleApart},
		Gravity: g, Units: a.units(), TypedLimit: s.Typed.LimitMM * 1e-3,
	})
}

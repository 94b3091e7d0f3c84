package main

import (
	"context"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/spring"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

type springOptions struct {
	lengths    map[string]*string // by dimension
	counts     map[string]*string // by dimension, bare numbers
	torque     string
	hook       string
	part       string
	caliper    string
	stock      string
	monteCarlo int64
}

// springFlags are the dimensions that may be typed, in the order of help.
var springFlags = []struct{ name, what string }{
	{"bore", "bore of the barrel"},
	{"arbor", "diameter of the arbor's core, where the coil seats"},
	{"strip", "thickness of the strip"},
	{"length", "length of the strip"},
	{"height", "height of the strip"},
	{"inner", "inner diameter of the run-down coil, measured in the barrel"},
	{"depth", "inside depth of the barrel, floor to cover"},
	{"free", "diameter of the released spring, lying free"},
}

// countFlags are the counts that may be typed.
var countFlags = []struct{ name, what string }{
	{"coils", "`NUMBER` of coils, run down in the barrel"},
	{"free-coils", "`NUMBER` of coils of the released spring, lying free"},
	{"set-up", "turns set up before the stopwork or the chain takes hold, `N`"},
	{"stop-turns", "turns that the stopwork allows, `N` (0: none)"},
	{"fusee-turns", "turns that the chain or line takes round the fusee, `N`"},
	{"chain-turns", "turns that the chain or line takes round the barrel, `N`"},
}

func newSpringCmd(a *app) *cobra.Command {
	o := springOptions{lengths: map[string]*string{}, counts: map[string]*string{}}
	c := &cobra.Command{
		Use:   "spring",
		Short: "Does this mainspring fit this barrel?",
		Long: `Judge a mainspring in its barrel, from the record or from the values given; a value
given takes the place of the recorded one. With bore, arbor and strip given, or inner
and coils in place of the strip, the record is not used unless --clock names a clock.

Lengths carry their unit and, if you like, their uncertainty: 0.56±0.01mm is a limit of
error, 0.560(6)mm a standard uncertainty. With --caliper the others have the limits of
that instrument, and share its error as recorded readings do.

A mainspring can injure. Let it down before the barrel is opened, use a proper winder
and restraint, guard face and hands, and keep to local rules and trained practice.`,
		Example: `  evenbeat spring
  evenbeat spring --bore 63.5mm --arbor 5/8in --strip 22thou --length 110in
  evenbeat spring --bore 45mm --arbor 15mm --strip 0.40mm --inner 33.5mm --caliper caliper
  evenbeat spring --strip 0.450±0.002mm --inner 34mm`,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return a.spring(c.Context(), o) },
	}
	a.clockFlag(c)
	a.fullFlag(c)
	f := c.Flags()
	for _, x := range springFlags {
		o.lengths[x.name] = f.String(x.name, "", x.what+", a `LENGTH` with its unit")
	}
	for _, x := range countFlags {
		o.counts[x.name] = f.String(x.name, "", x.what)
	}
	f.StringVar(&o.torque, "torque", "", "torque measured at the arbor, fully wound, `T`: 0.75±0.05Nm, 5inlb, 8kgcm, or force and lever, 0.35kg*235mm")
	f.StringVar(&o.hook, "hook", "", "how hook and hole look, `good|bad` (without it: not looked at)")
	f.StringVar(&o.part, "part", "", "the `PART` it was measured as (barrel, unless measure --part named another)")
	f.StringVar(&o.caliper, "caliper", "", "the instrument that read the lengths given, a `PROFILE` (see ports profiles)")
	f.StringVar(&o.stock, "stock", "", "rank the strips of this CSV `FILE`: name,thickness,height,length,quantity")
	f.Int64Var(&o.monteCarlo, "monte-carlo", 0, "check the intervals with `N` draws (JCGM 101)")
	return c
}

func (a *app) spring(ctx context.Context, o springOptions) error {
	opt := a.springOptions()
	opt.MonteCarlo = o.monteCarlo
	if o.monteCarlo < 0 {
		return badCall("--monte-carlo %d: must not be negative", o.monteCarlo)
	}
	var err error
	if opt.Hook, err = hookHeld(o.hook); err != nil {
		return err
	}
	given, err := a.givenDimensions(o)
	if err != nil {
		return err
	}
	if opt.Given, err = a.givenBy(o.caliper); err != nil {
		return err
	}
	if o.stock != "" {
		if opt.Stock, err = a.readStock(o.stock); err != nil {
			return err
		}
	}
	of, title := "", "The spring, from the values given"
	var f spring.Result
	if o.standsAlone() && a.clock == "" {
		f, err = analysis.Spring(sessions.Record{}, o.part, given, opt)
	} else {
		err = a.withClock(ctx, reading, func(b *book.Book, clock sessions.Clock) error {
			rec, err := b.Record(ctx, clock.ID, book.Sessions, book.Readings)
			if err != nil {
				return err
			}
			of, title = clock.Name, clock.Name+": the spring"
			f, err = analysis.Spring(a.byPlans(rec), o.part, given, opt)
			return err
		})
	}
	if err != nil {
		return err
	}
	if a.asJSON {
		return a.answer(of, f)
	}
	return render.Spring(a.out, title, f, a.units(), a.full)
}

// hookHeld reads how the hook was found.
func hookHeld(text string) (spring.Held, error) {
	switch text {
	case "":
		return "", nil
	case "good":
		return spring.Kept, nil
	case "bad":
		return spring.Broken, nil
	}
	return "", badCall("--hook %s: must be good or bad", text)
}

// standsAlone tells whether the values given are enough without a record.
func (o springOptions) standsAlone() bool {
	byCoils := *o.lengths["inner"] != "" && *o.counts["coils"] != ""
	return *o.lengths["bore"] != "" && *o.lengths["arbor"] != "" && (*o.lengths["strip"] != "" || byCoils)
}

// givenBy returns the instrument of that profile; none for no name.
func (a *app) givenBy(profile string) (analysis.GivenBy, error) {
	if profile == "" {
		return analysis.GivenBy{}, nil
	}
	p, err := a.loaded.Profile(profile)
	if err != nil {
		return analysis.GivenBy{}, badCall("--caliper: %w", err)
	}
	if !live.MeasuresLengths(p) {
		return analysis.GivenBy{}, badCall("--caliper %s is a %s: name a caliper's or micrometer's profile", p.Name, p.Kind)
	}
	return analysis.GivenBy{Name: p.Name, Outside: p.LimitOutsideMM * 1e-3, Inside: p.LimitInsideMM * 1e-3, Step: p.ResolutionMM * 1e-3}, nil
}

// givenDimensions reads the values typed as flags.
func (a *app) givenDimensions(o springOptions) (map[string]quantity.Number, error) {
	given := map[string]quantity.Number{}
	for _, x := range springFlags {
		text := *o.lengths[x.name]
		if text == "" {
			continue
		}
		l, err := quantity.ParseLength(text, a.assume())
		if err != nil {
			return nil, badCall("--%s %w", x.name, err)
		}
		if l.Metres <= 0 {
			return nil, badCall("--%s %s: must be more than nothing", x.name, text)
		}
		given[x.name] = l.Number()
	}
	for _, x := range countFlags {
		text := *o.counts[x.name]
		if text == "" || text == "0" && x.name == "stop-turns" {
			continue
		}
		n, err := quantity.ParseCount(text)
		if err != nil {
			return nil, badCall("--%s: %w", x.name, err)
		}
		given[x.name] = n
	}
	if o.torque != "" {
		g, err := a.parseTorque(o.torque)
		if err != nil {
			return nil, err
		}
		given["torque"] = g
	}
	return given, nil
}

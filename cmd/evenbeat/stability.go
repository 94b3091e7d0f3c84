package main

import (
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"evenbeat/analysis/stability"
)

type stabilityOptions struct {
	data, taus string
	interval   float64
}

func newStabilityCmd(a *app) *cobra.Command {
	var o stabilityOptions
	c := &cobra.Command{
		Use:   "stability FILE",
		Short: "The Allan family of deviations of a series of phases or frequencies",
		Long: `Tabulate the Allan family for a file with one number a line (phase in seconds, or
fractional frequency), as defined in NIST SP 1065. Lines that start with # are
skipped; - reads standard input. The interval of confidence is that of the
overlapping Allan deviation, 68 %.`,
		Example: `  evenbeat stability phase.txt --data phase --interval 1 --taus octave`,
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			f, err := a.findStability(args[0], o)
			if err != nil {
				return err
			}
			if a.asJSON {
				return writeJSON(a.out, f, true)
			}
			return writeStability(a.out, f)
		},
	}
	o.flags(c)
	return c
}

func (o *stabilityOptions) flags(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&o.data, "data", "", "what a line is: `phase|frequency`")
	f.Float64Var(&o.interval, "interval", 0, "time between lines, `S`econds")
	f.StringVar(&o.taus, "taus", "octave", "averaging times in intervals: `octave|decade|all|1,2,10`")
}

func (a *app) findStability(name string, o stabilityOptions) (stability.Result, error) {
	var none stability.Result
	if !(o.interval > 0) || math.IsInf(o.interval, 0) {
		return none, badCall("--interval %g: name the seconds between two lines", o.interval)
	}
	kind, err := stability.ParseKind(o.data)
	if err != nil {
		return none, badCall("--data: %w", err)
	}
	taus, err := stability.ParseTaus(o.taus)
	if err != nil {
		return none, badCall("--taus: %w", err)
	}
	var data []float64
	err = a.withInput(name, func(in io.Reader) error {
		if data, err = stability.ReadData(in); err != nil {
			return badCall("%s: %w", name, err)
		}
		return nil
	})
	if err != nil {
		return none, err
	}
	f, err := stability.Table(data, kind, o.interval, taus)
	if err != nil {
		return none, badCall("%s: %w", name, err)
	}
	return f, nil
}

func writeStability(w io.Writer, f stability.Result) error {
	r := &report{w: w}
	r.printf("%10s %8s  %-12s %-12s %-12s %-12s %-12s %-12s %-12s %-26s %s\n", "tau, s", "terms", "ADEV",
		"OADEV", "MDEV", "TDEV, s", "HDEV", "OHDEV", "TOTDEV", "OADEV, 68 %", "noise")
	for _, x := range f.Rows {
		limits := ""
		if x.Low != nil && x.High != nil {
			limits = number(x.Low) + " to " + number(x.High)
		}
		r.printf("%10.6g %8d  %-12s %-12s %-12s %-12s %-12s %-12s %-12s %-26s %s\n", x.TauS, x.N, number(x.ADev),
			number(x.OADev), number(x.MDev), number(x.TDev), number(x.HDev), number(x.OHDev), number(x.TotDev), limits, x.Noise)
	}
	r.list("Heed", "!", f.Warnings)
	return r.err
}

// number writes a deviation as tables of the field print it; a dash where there
// are too few points.
func number(x *float64) string {
	if x == nil {
		return "-"
	}
	return fmt.Sprintf("%.6e", *x)
}

package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions/book"
)

// symptom is one thing looked at by the doctor.
type symptom struct {
	Thing  string `json:"thing"`            // what was looked at
	Well   bool   `json:"well"`             // nothing is wrong with it
	Found  string `json:"found"`            // in words
	Remedy string `json:"remedy,omitempty"` // what to do about it
}

// symptomList is the answer in JSON.
type symptomList struct {
	LookedAt []symptom `json:"looked_at"`
}

func newDoctorCmd(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "doctor",
		Short: "What is wrong with this set-up, and how to mend it",
		Long: `Look at the settings, the book, the serial ports and this computer's clock, and say
what is wrong and how to mend it. Nothing is changed, and no port is opened. The exit
status is 0 if nothing is wrong, and 1 if something is to be mended.`,
		Example: `  evenbeat doctor`,
		Args:    cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			all := []symptom{a.settingsHealth(), a.bookHealth(c.Context())}
			all = append(all, a.portHealth()...)
			all = append(all, a.hostClockHealth())
			ill := 0
			for _, s := range all {
				if !s.Well {
					ill++
				}
			}
			if err := a.writeHealth(all); err != nil {
				return err
			}
			if ill > 0 {
				return fmt.Errorf("doctor: %d of %d to be mended", ill, len(all))
			}
			return nil
		},
	}
}

func (a *app) writeHealth(all []symptom) error {
	if a.asJSON {
		return a.answer("", symptomList{all})
	}
	r := render.New(a.out)
	for _, s := range all {
		mark := "OK"
		if !s.Well {
			mark = "MEND"
		}
		head, under := fmt.Sprintf("%-4s  %-18s", mark, s.Thing), strings.Repeat(" ", 24)
		if utf8.RuneCountInString(head) > len(under) { // the long path of a port
			r.Printf("%s\n", head)
			head = under
		}
		r.Items("", head, []string{s.Found})
		if s.Remedy != "" {
			r.Items("", under, []string{s.Remedy})
		}
	}
	return r.Err()
}

func (a *app) settingsHealth() symptom {
	if a.loaded.File == "" {
		return symptom{Thing: "settings", Well: true, Found: "no file of your own: the built-in values apply"}
	}
	return symptom{Thing: "settings", Well: true, Found: a.loaded.File + " was read without errors"}
}

func (a *app) bookHealth(ctx context.Context) symptom {
	s := symptom{Thing: "book", Found: a.loaded.Settings.Book}
	var problems []string
	err := a.withBook(ctx, reading, func(b *book.Book) error {
		rep, err := b.Check(ctx)
		problems = rep.Problems
		return err
	})
	if e, ok := errors.AsType[*book.Error](err); ok && e.Kind == book.KindMissing {
		s.Well, s.Found = true, s.Found+": not there yet, the first reading makes it"
		return s
	}
	if err != nil {
		s.Found = oneLine(err)
		return s
	}
	if len(problems) > 0 {
		s.Found, s.Remedy = problems[0], "restore a backup with evenbeat book restore FILE, or save what is whole with evenbeat book salvage FROM TO"
		return s
	}
	s.Well, s.Found = true, s.Found+": sound"
	return s
}

func (a *app) portHealth() []symptom {
	all, err := a.bench().Ports()
	if err != nil {
		return []symptom{{Thing: "serial ports", Found: err.Error()}}
	}
	if len(all) == 0 {
		return []symptom{{Thing: "serial ports", Well: true, Found: "none: plug an instrument in to see it here"}}
	}
	var out []symptom
	for _, p := range all {
		s := symptom{Thing: p.Name, Well: true, Found: "may be read and written"}
		if p.Gone {
			s = symptom{Thing: p.Name, Found: p.Identity(), Remedy: "plug it in or start what makes it, or take it out of ports in the settings"}
		} else if err := mayOpen(p.Name); errors.Is(err, os.ErrPermission) {
			s = symptom{Thing: p.Name, Found: "permission denied", Remedy: "add yourself to its group, such as dialout, and log in again"}
		} else if err != nil {
			s = symptom{Thing: p.Name, Found: err.Error()}
		}
		out = append(out, s)
	}
	return out
}

func (a *app) hostClockHealth() symptom {
	limit := a.loaded.Settings.Host.LimitPPM
	surer := fmt.Sprintf("rates are no better than ±%g ppm (%.2g s/day)", limit, limit*86400e-6)
	s := symptom{Thing: "computer's clock"}
	clock := live.HostClock()
	switch {
	case !clock.HostKnown:
		s.Well, s.Found = true, "not known whether a time service keeps it right: "+surer
	case clock.HostSynced:
		s.Well, s.Found = true, "kept right by a time service"
		if clock.HostMaxErrorS > 0 {
			s.Found += fmt.Sprintf(", to %.3g s by its own account", clock.HostMaxErrorS)
		}
	default:
		s.Found, s.Remedy = "no time service keeps it right: "+surer, "switch the system's time service on"
	}
	return s
}

package main

import (
	"fmt"
	"strings"
	"time"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

// readingLine is the line of JSON that acknowledges a reading.
type readingLine struct {
	Reading   int64          `json:"reading"`
	Part      string         `json:"part"`
	Dimension string         `json:"dimension"`
	Value     float64        `json:"value_m"`
	Text      string         `json:"text"`
	State     sessions.State `json:"state"`
	Why       string         `json:"why,omitempty"`
	Next      string         `json:"next,omitempty"`
}

// greet says what will be measured and how, before the first reading.
func (m *measuring) greet(clock, part string) {
	r := render.New(m.err)
	r.Printf("%s, %s: %s.\n", clock, part, m.plan.Title)
	r.List("Mind", "!", m.plan.Cautions)
	r.Printf("\n")
	instrument := m.source != nil || m.seek != nil
	if instrument {
		r.Printf("%s\n", keyHelp)
	}
	ask, _ := m.progress.Next()
	if ask.ZeroFirst && instrument {
		r.Say("First close the jaws and send, for the zero; or go straight on.")
	}
	m.ask(ask, true)
}

// ask says what is wanted next; the full sentence when the dimension is new.
func (m *measuring) ask(next plan.Ask, whole bool) {
	if next.String() == "" || m.asJSON {
		return
	}
	again := ""
	if next.Again {
		again = " again, to be sure"
	}
	line := next.String() + again
	var caution []string
	if whole {
		line += ": " + next.Step.Ask
		if next.Step.Caution != "" {
			caution = []string{next.Step.Caution}
		}
	}
	r := render.New(m.err)
	r.Items("  ", "→", []string{line})
	r.Items("    ", "!", caution)
}

// acknowledge tells what is in the book now, and what is wanted next.
func (m *measuring) acknowledge(k recorder.Event) error {
	switch k.Kind {
	case recorder.Kept, recorder.Doubtful:
		return m.tellReading(k)
	case recorder.Undone:
		return m.tell(map[string]any{"undone": k.Undone}, fmt.Sprintf("  undone: reading %d is kept, and left out of every sum", k.Undone), k)
	case recorder.Faulty:
		if k.Fault.Kind == string(devices.FaultGarbage) && m.source == nil {
			m.refused++
		}
		return m.tell(map[string]any{"fault": k.Fault.Text}, "  ! "+k.Fault.Kind+": "+k.Fault.Text, k)
	case recorder.Skipped:
		return m.tell(nil, "  skipped: "+k.Dimension, k)
	case recorder.Repeated:
		return m.tell(nil, "  one more: "+k.Dimension, k)
	}
	return m.tell(nil, "  nothing to undo", k)
}

func (m *measuring) tellReading(k recorder.Event) error {
	r := k.Reading
	m.kept++
	note := "kept"
	if r.State == sessions.Doubtful {
		m.doubtful++
		note = "doubtful: " + r.Why
		if isTerminal(m.err) {
			note += "\a" // the clockmaker looks at the caliper, not at the screen
		}
	} else if r.Why != "" {
		note += ": " + r.Why
	}
	line := readingLine{r.ID, r.Part, r.Dimension, r.Value, r.Text, r.State, r.Why, k.Next.String()}
	return m.tell(line, fmt.Sprintf("%4d  %-8s %-14s %s", r.ID, r.Dimension, strings.TrimSpace(r.Text), note), k)
}

// tell writes one acknowledgement, as JSON or as text with what is wanted next.
func (m *measuring) tell(line any, text string, k recorder.Event) error {
	if m.asJSON {
		if line == nil {
			return nil
		}
		return render.JSON(m.out, line, false)
	}
	if _, err := fmt.Fprintln(m.out, text); err != nil {
		return err
	}
	m.ask(k.Next, k.Next.N == 1)
	return nil
}

func (m *measuring) sumUp() error {
	if m.asJSON {
		return nil
	}
	r := render.New(m.err)
	r.Printf("%d %s kept", m.kept, render.Plural(int64(m.kept), "reading", "readings"))
	if m.doubtful > 0 {
		r.Printf(", %d of them doubtful", m.doubtful)
	}
	r.Printf(".")
	if !m.progress.Zeroed() && m.source != nil {
		r.Printf(" No zero was taken: the instrument's zero error is not corrected.")
	}
	r.Printf("\n")
	if next, more := m.progress.Next(); more {
		r.Printf("Still wanted: %s.\n", next)
	}
	switch m.plan.Name {
	case "mainspring", "in-place":
		r.Printf("Next: evenbeat spring\n")
	case "pivot", "bushing", "wheel", "pendulum":
		r.Printf("Next: evenbeat fit\n")
	}
	return r.Err()
}

func utcTime(s devices.Stamp) time.Time { return time.Unix(0, s.UTC).UTC() }

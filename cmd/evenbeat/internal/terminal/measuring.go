package terminal

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"strings"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

// measuring shows a session of measuring and hands it what is typed.
type measuring struct {
	told
	session *live.Measuring
	keys    *keyboard // nil before the session has begun
	restore func()
	typed   chan error // how the keyboard ended

	// What was shown of the state, for when the terminal falls behind.
	greeted  bool
	asked    string // dimension
	readings int
	undone   map[int64]bool
}

// Measure runs a session of measuring from the terminal until it ends. A failed write
// to Out ends it, with that error.
func (s Streams) Measure(ctx context.Context, m *live.Measuring, b live.ReadingBook) error {
	t := &measuring{told: told{Streams: s}, session: m, restore: func() {}, typed: make(chan error, 1), undone: map[int64]bool{}}
	// What the session tells after an interrupt is shown too, up to its end.
	events := m.Subscribe(context.WithoutCancel(ctx))
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	ran := make(chan error, 1)
	go func() { ran <- m.Run(ctx, b) }()
	shown := t.show(ctx, events)
	stop()
	err := errors.Join(<-ran, shown)
	t.restore()
	select {
	case terr := <-t.typed:
		err = errors.Join(err, terr)
	default: // still waits for a key, and will as long as the program lives
	}
	return err
}

func (t *measuring) show(ctx context.Context, events iter.Seq[live.Event]) error {
	for e := range events {
		if err := t.event(ctx, e); err != nil {
			return err
		}
	}
	return t.sumUp(t.session.State())
}

// event shows one event.
func (t *measuring) event(ctx context.Context, e live.Event) error {
	switch e.Kind {
	case live.Whole:
		return t.whole(ctx, e.State)
	case live.Searching:
		t.searching(e.Search)
	case live.Started:
		t.openKeyboard(ctx)
	case live.Joined:
		t.Say("  The %s at %s is heard too. Close its jaws and send, to take its zero.\n", e.Session.Profile, e.Session.Port)
	case live.Warning:
		t.warning(e.Warning)
	case recorder.Kept, recorder.Doubtful:
		return t.reading(e.Reading, e.Next)
	case recorder.Undone:
		return t.undo(e.Undone, e.Reading.Instrument == sessions.TypedInstrument && e.Reading.Value != 0, e.Next)
	case recorder.Faulty:
		return t.tell(FaultLine{e.Fault.Text}, "  !", strings.TrimPrefix(t.fault(e), "  ! "), e.Next)
	case recorder.Replaced:
		t.Say("  The older readings no longer count. To have them back: evenbeat undo note %d\n", e.Note)
	case recorder.Skipped:
		return t.tell(nil, " ", "skipped: "+e.Dimension, e.Next)
	case recorder.Repeated:
		return t.tell(nil, " ", "one more: "+e.Dimension, e.Next)
	case recorder.Jumped:
		return t.tell(nil, " ", "on to: "+e.Dimension, e.Next)
	case recorder.NothingToDo:
		return t.tell(nil, " ", "nothing to do", e.Next)
	}
	return nil
}

// whole shows what of the state was not shown yet: at the beginning, and when the
// terminal stood still while the session went on.
func (t *measuring) whole(ctx context.Context, s *live.State) error {
	if !t.greeted {
		t.greeted = true
		t.greet(s)
	}
	if s.Session.ID != 0 {
		t.openKeyboard(ctx)
	}
	for _, r := range s.Readings[t.readings:] {
		if err := t.reading(r.Reading, r.Next); err != nil {
			return err
		}
	}
	for _, r := range s.Readings {
		if r.Undone && !t.undone[r.ID] {
			if err := t.undo(r.ID, false, s.Next); err != nil {
				return err
			}
		}
	}
	t.catchUp(s)
	return nil
}

// openKeyboard begins to read what is typed.
func (t *measuring) openKeyboard(ctx context.Context) {
	if t.keys != nil {
		return
	}
	t.keys = &keyboard{Streams: t.Streams, session: t.session, typed: t.session.State().Typed}
	t.restore = t.keys.open()
	go func() { t.typed <- t.keys.run(ctx) }()
}

// greet says what will be measured and how, before the first reading.
func (t *measuring) greet(s *live.State) {
	r := render.New(t.Err)
	r.Printf("%s, %s: %s.\n", s.Clock, s.Part, s.Plan.Title)
	r.List("Safety", "!", s.Plan.Cautions)
	r.Printf("\n")
	if len(s.Before) > 0 {
		r.Say("In the record already: " + before(s.Before) + ".")
	}
	if n := len(s.Replaced); n > 0 {
		r.Say(replaced(s.Replaced) + fmt.Sprintf(" To have them back: evenbeat undo note %d.", s.Replaced[n-1].ReplacedBy))
	}
	if s.Typed {
		r.Say("Type each reading and press Enter. A length carries its unit, such as 45.02mm or 1.772in, unless --units gives one for all. h shows the keys.")
		r.Printf("\n")
	} else {
		r.Printf("%s\n", KeyHelp)
	}
	if s.Next.ZeroFirst && !s.Typed {
		r.Say("First close the jaws and send to take the zero, or go straight on.")
	}
	t.ask(s.Next)
}

// replaced says which readings no longer count.
func replaced(all []sessions.Reading) string {
	var names []string
	for _, r := range all {
		if !slices.Contains(names, r.Dimension) {
			names = append(names, r.Dimension)
		}
	}
	return "Replaced since it was measured, so that older readings no longer count: " + strings.Join(names, ", ") + "."
}

// before says what earlier sessions kept, and when.
func before(had []plan.Had) string {
	var parts []string
	for i, h := range had {
		text := h.Dimension
		if h.Readings > 1 {
			text = fmt.Sprintf("%d of the %s", h.Readings, h.Dimension)
		}
		if day := h.Last.Local().Format(time.DateOnly); i+1 == len(had) || had[i+1].Last.Local().Format(time.DateOnly) != day {
			text += " (" + day + ")"
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, ", ")
}

// ask says what is wanted next; the full sentence when the dimension is new.
func (t *measuring) ask(next plan.Ask) {
	if next.String() == "" || t.JSON {
		return
	}
	line := next.String()
	if next.Again {
		line += " again, to be sure"
	}
	var caution []string
	if t.asked != next.Step.Dimension {
		t.asked = next.Step.Dimension
		line += ": " + next.Step.Ask
		if next.Step.Caution != "" {
			caution = []string{next.Step.Caution}
		}
	}
	r := render.New(t.Err)
	r.Items("  ", "→", []string{line})
	r.Items("    ", "!", caution)
}

// ReadingLine is the line of JSON that acknowledges a reading.
type ReadingLine struct {
	Reading   int64          `json:"reading"`   // its number in the book, where it now is
	Part      string         `json:"part"`      // that it belongs to
	Dimension string         `json:"dimension"` // what was measured: bore, strip …
	Value     float64        `json:"value_m"`   // length; for a count the bare number
	Text      string         `json:"text"`      // as it came
	State     sessions.State `json:"state"`
	Why       string         `json:"why,omitempty"`  // why it is in that state
	Next      string         `json:"next,omitempty"` // what is wanted next: bore 2 of 3
}

// UndoneLine is the one that acknowledges an undo.
type UndoneLine struct {
	Reading int64 `json:"undone"` // its number; 0 where a skip or repeat was undone
}

// FaultLine is the one of what could not be understood.
type FaultLine struct {
	Text string `json:"fault"` // what came, or what happened
}

func (t *measuring) reading(r sessions.Reading, next plan.Ask) error {
	t.readings++
	note := "kept"
	if r.State == sessions.Doubtful {
		note = "doubtful: " + r.Why
		if Is(t.Err) {
			t.Say("\a") // the clockmaker looks at the caliper, not at the screen
		}
	} else if r.Why != "" {
		note += ": " + r.Why
	}
	line := ReadingLine{r.ID, r.Part, r.Dimension, r.Value, r.Text, r.State, r.Why, next.String()}
	return t.tell(line, fmt.Sprintf("%4d  %-8s %-14s", r.ID, r.Dimension, strings.TrimSpace(r.Text)), note, next)
}

// undo acknowledges an undo. It may be a slip if a small length was typed.
func (t *measuring) undo(id int64, slip bool, next plan.Ask) error {
	text := "undone: the last skip or repeat"
	if id != 0 {
		t.undone[id] = true
		text = fmt.Sprintf("undone: reading %d stays in the book, but is left out of every calculation", id)
	}
	if slip {
		text += fmt.Sprintf(". A length within %g mm of zero is what closed jaws send, to undo the last one", plan.UndoWithin*1e3)
	}
	return t.tell(UndoneLine{id}, " ", text, next)
}

// tell writes one acknowledgement, as JSON or as text behind a mark, with what is wanted
// next.
func (t *measuring) tell(line any, mark, text string, next plan.Ask) error {
	if t.JSON {
		if line == nil {
			return nil
		}
		return t.Line(t.session.State().Clock, line)
	}
	r := render.New(t.Out)
	r.Items("", mark, []string{text})
	if r.Err() != nil {
		return r.Err()
	}
	t.ask(next)
	return nil
}

// sumUp says at the end what was kept, and what comes next. An error that ended the
// session is told by whoever ran it.
func (t *measuring) sumUp(s *live.State) error {
	switch {
	case s.Err != nil:
		return nil
	case s.Session.ID == 0:
		t.Say("Nothing that arrived could be understood; nothing was kept.\n")
		return nil
	case t.JSON:
		return nil
	}
	kept, doubtful, undone := 0, 0, 0
	for _, r := range s.Readings {
		switch {
		case r.Undone:
			undone++
		case r.State == sessions.Doubtful:
			doubtful++
		default:
			kept++
		}
	}
	r := render.New(t.Err)
	r.Printf("%d %s kept", kept, quantity.Plural(int64(kept), "reading", "readings"))
	if doubtful > 0 {
		r.Printf(", %d doubtful", doubtful)
	}
	if undone > 0 {
		r.Printf(", %d undone", undone)
	}
	r.Printf(".")
	if !s.Zeroed() && !s.Typed {
		r.Printf(" No zero was taken: the instrument's zero error is not corrected.")
	}
	r.Printf("\n")
	if len(s.Left.Wanted) > 0 {
		r.Say("Still wanted: " + strings.Join(s.Left.Wanted, ", ") + ". The next evenbeat measure carries on there.")
	}
	switch {
	case s.Plan.Finding == "" || !s.Left.Answers: // the readings are only kept, or tell nothing yet
	case s.Plan.Finding == sessions.SpringFinding:
		r.Printf("Next: evenbeat spring\n")
	default:
		r.Printf("Next: evenbeat fit\n")
	}
	return r.Err()
}

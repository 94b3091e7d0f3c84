package main

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// recordLine is one row of what is recorded.
type recordLine struct {
	Number int64     `json:"number"`        // that undo takes
	Time   time.Time `json:"time"`          // when it was
	What   string    `json:"what"`          // what it says, in words
	State  string    `json:"state"`         // kept, doubtful, undone or taken back
	Why    string    `json:"why,omitempty"` // why it is in that state
}

// recordList is the answer in JSON: the rows of the kind that was asked for, under its name.
type recordList map[string][]recordLine

const (
	stateKept  = "kept"
	stateTaken = "taken back"
)

func newRecordCmd(a *app) *cobra.Command {
	kinds := []string{"readings", "checks", "notes", "air", "sessions", "particulars"}
	c := &cobra.Command{
		Use:   "record " + strings.Join(kinds, "|"),
		Short: "List what is recorded of a clock, with its numbers",
		Long: `List what is recorded of a clock, each row with its number. Rows that were taken back
are listed too. undo takes a row back by that number, and move puts a session under
another clock or part.`,
		Example: `  evenbeat record checks
  evenbeat undo check 12 --why "misread the minute"`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if !slices.Contains(kinds, args[0]) {
				return badCall("record %q is not known: use %s", args[0], strings.Join(kinds, ", "))
			}
			return a.withClock(c.Context(), reading, func(b *book.Book, clock sessions.Clock) error {
				lines, err := a.recordLines(c.Context(), b, clock, args[0])
				if err != nil {
					return err
				}
				if a.asJSON {
					return a.answer(clock.Name, recordList{args[0]: lines})
				}
				return a.listRecord(clock, args[0], lines)
			})
		},
	}
	a.clockFlag(c)
	return c
}

func (a *app) listRecord(clock sessions.Clock, kind string, lines []recordLine) error {
	r := render.New(a.out)
	if len(lines) == 0 {
		r.Printf("%s: no %s recorded.\n", clock.Name, kind)
	}
	for _, l := range lines {
		if l.State != stateKept {
			l.What += ", " + l.State
		}
		if l.Why != "" {
			l.What += ": " + l.Why
		}
		// A row is a line: no text in it may look like the next one.
		r.Printf("%6d  %s  %s\n", l.Number, l.Time.In(a.zone(clock)).Format("2006-01-02 15:04:05"), strings.Join(strings.Fields(l.What), " "))
	}
	return r.Err()
}

// recordLines returns the rows of a kind, those taken back among them, by number.
func (a *app) recordLines(ctx context.Context, b *book.Book, clock sessions.Clock, kind string) ([]recordLine, error) {
	parts := map[string]book.Part{"readings": book.Readings, "checks": book.Checks, "notes": book.Events, "air": book.Air, "sessions": book.Sessions, "particulars": book.Particulars}
	rec, err := b.Record(ctx, clock.ID, parts[kind])
	if err != nil {
		return nil, err
	}
	lines := []recordLine{}
	switch kind {
	case "readings":
		for _, x := range rec.Readings {
			lines = append(lines, recordLine{x.ID, x.At, strings.TrimSpace(x.Part + " " + x.Dimension + ": " + x.Text), string(x.State), x.Why})
		}
	case "checks":
		lines = bothLines(rec.Checks, rec.Withdrawn.Checks, func(x sessions.Check) recordLine {
			return recordLine{Number: x.ID, Time: x.At, What: "dial " + quantity.Value{V: x.ErrorS, U: x.U}.Signed("s")}
		})
	case "notes":
		lines = bothLines(rec.Events, rec.Withdrawn.Events, func(x sessions.Event) recordLine { return recordLine{Number: x.ID, Time: x.At, What: noteText(x)} })
	case "air":
		lines = bothLines(rec.Air, rec.Withdrawn.Air, func(x sessions.Air) recordLine {
			return recordLine{Number: x.ID, Time: x.At, What: airText(x)}
		})
	case "particulars":
		lines = bothLines(rec.Particulars, rec.Withdrawn.Particulars, func(x sessions.Particular) recordLine {
			return recordLine{Number: x.ID, Time: x.At, What: strings.TrimSpace(x.Part+" "+x.Name) + ": " + x.Value}
		})
	case "sessions":
		lines = bothLines(rec.Sessions, rec.Withdrawn.Sessions, func(x sessions.Session) recordLine {
			return recordLine{Number: x.ID, Time: x.Started, What: sessionText(x)}
		})
	}
	slices.SortFunc(lines, func(a, b recordLine) int { return cmp.Compare(a.Number, b.Number) })
	return lines, nil
}

func bothLines[T any](stand []T, taken []sessions.TakenBack[T], line func(T) recordLine) []recordLine {
	lines := []recordLine{}
	for _, x := range stand {
		l := line(x)
		l.State = stateKept
		lines = append(lines, l)
	}
	for _, x := range taken {
		l := line(x.Row)
		l.State, l.Why = stateTaken, x.Why
		lines = append(lines, l)
	}
	return lines
}

func noteText(e sessions.Event) string {
	text := render.Event(e)
	if e.Text != "" {
		text += ": " + e.Text
	}
	return text
}

func airText(x sessions.Air) string {
	var parts []string
	for _, p := range []struct {
		has  bool
		v    float64
		unit string
	}{{x.HasTemperature, x.TemperatureC, "°C"}, {x.HasPressure, x.PressureHPa, "hPa"}, {x.HasHumidity, x.HumidityPct, "%"}} {
		if p.has {
			parts = append(parts, render.Air(p.v)+" "+p.unit)
		}
	}
	return strings.Join(parts, ", ")
}

func sessionText(s sessions.Session) string {
	text := string(s.Kind)
	if s.Part != "" {
		text += " " + s.Part
	}
	if s.Plan != "" {
		text += ", plan " + s.Plan
	}
	if s.Ended.IsZero() {
		return text + ", not ended"
	}
	return text + ", " + s.Ended.Sub(s.Started).Round(time.Second).String()
}

func newUndoCmd(a *app) *cobra.Command {
	var names []string
	for _, t := range book.Things() {
		names = append(names, string(t))
	}
	var why string
	c := &cobra.Command{
		Use:   "undo " + strings.Join(names, "|") + " N",
		Short: "Take back what was recorded by mistake",
		Long: `Take back a row by its number, which record lists. It stays in the book, marked as
taken back, and is left out of every result. A session takes its
readings, beats or air with it; the air beside beats stays.`,
		Example: `  evenbeat undo check 12 --why "misread the minute"
  evenbeat undo reading 31`,
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if !slices.Contains(names, args[0]) {
				return badCall("undo %q is not known: use %s", args[0], strings.Join(names, ", "))
			}
			id, err := rowNumber(args[0], args[1])
			if err != nil {
				return err
			}
			return a.withBook(c.Context(), writing, func(b *book.Book) error {
				if err := b.Withdraw(c.Context(), book.Thing(args[0]), id, why); err != nil {
					return err
				}
				if a.asJSON {
					return a.answer("", takenBack{id, args[0]})
				}
				r := render.New(a.out)
				r.Say(args[0] + " " + args[1] + " is taken back: it stays in the book, but is left out of every calculation.")
				return r.Err()
			})
		},
	}
	c.Flags().StringVar(&why, "why", "", "the reason, in your own `WORDS`")
	return c
}

// takenBack is the answer of undo in JSON.
type takenBack struct {
	Number int64  `json:"undone"` // of the row, as record lists it
	Thing  string `json:"thing"`  // kind of row
}

func rowNumber(thing, text string) (int64, error) {
	id, err := strconv.ParseInt(text, 10, 64)
	if err != nil || id < 1 {
		return 0, badCall("%s %q: must be a number that evenbeat record lists", thing, text)
	}
	return id, nil
}

func newMoveCmd(a *app) *cobra.Command {
	var part string
	c := &cobra.Command{
		Use:   "move session N",
		Short: "Move a session to another clock or part",
		Long: `Move a session, with all that was recorded in it, to the clock or part that it belongs
to. The number is the one that record sessions lists.`,
		Example: `  evenbeat move session 4 --clock Landing
  evenbeat move session 4 --part "striking barrel"`,
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if args[0] != "session" {
				return badCall("move %q is not known: only a session can be moved", args[0])
			}
			id, err := rowNumber(args[0], args[1])
			if err != nil {
				return err
			}
			if c.Flags().Changed("part") {
				if err := quantity.CheckName("part", part); err != nil {
					return flagError("part", err)
				}
			} else if a.clock == "" {
				return badCall("move session %d: say where to, with --clock or --part", id)
			}
			return a.withBook(c.Context(), writing, func(b *book.Book) error { return a.move(c, b, id, part) })
		},
	}
	c.Flags().StringVar(&a.clock, "clock", "", "the `NAME` of the clock that it belongs to (the one it has)")
	c.Flags().StringVar(&part, "part", "", "the `NAME` of the part that it belongs to (the one it has)")
	return c
}

// movedSession is the answer of move in JSON.
type movedSession struct {
	Session int64  `json:"moved"` // its number
	Part    string `json:"part"`  // that it belongs to now; empty for a session of timing
}

func (a *app) move(c *cobra.Command, b *book.Book, id int64, part string) error {
	s, err := b.Session(c.Context(), id)
	if err != nil {
		return err
	}
	find := func() (sessions.Clock, error) { return b.Clock(c.Context(), s.ClockID) }
	if a.clock != "" {
		find = func() (sessions.Clock, error) { return b.ClockByName(c.Context(), a.clock) }
	}
	to, err := find()
	if err != nil {
		return err
	}
	if !c.Flags().Changed("part") {
		part = s.Part
	}
	if err := b.MoveSession(c.Context(), id, to.ID, part); err != nil {
		return err
	}
	if a.asJSON {
		return a.answer(to.Name, movedSession{id, part})
	}
	r := render.New(a.out)
	r.Printf("session %d is moved, with all that was recorded in it.\n", id)
	return r.Err()
}

package recorder

import (
	"context"
	"fmt"
	"strings"

	"evenbeat/devices"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// said takes a reading of the instrument.
func (m *Measuring) said(ctx context.Context, it Item) error {
	s, by := it.Said, it.By
	if by == nil {
		by = &By{m.Session.Profile, m.Limit}
	}
	next, more := m.Progress.Next()
	wrong := ""
	switch {
	case s.Reading.Dim != devices.DimLength:
		wrong = "no length"
	case more && next.Step.Kind == sessions.Count && !plan.IsUndo(s.Reading.Value):
		wrong = next.Step.Dimension + " is a bare number, to be typed"
	}
	if wrong != "" {
		f := fault(m.Session.ID, s, NotAskedFor)
		f.Text = fmt.Sprintf("%s: %s", f.Text, wrong)
		m.faults.add(f)
		return nil
	}
	r := sessions.Reading{At: utc(s.At), Value: s.Reading.Value, Step: s.Reading.Step, Text: s.Text, Instrument: by.Instrument}
	if more {
		r.Limit = by.Limit(next.Step.Kind)
	}
	return m.reading(ctx, r, by.Limit)
}

// typed takes a line from the keyboard, or from an instrument that types.
func (m *Measuring) typed(ctx context.Context, it Item) error {
	next, _ := m.Progress.Next()
	e, err := m.Parse(it.Typed, next.Step)
	if err != nil {
		text := err.Error()
		if !strings.Contains(text, it.Typed) {
			text = fmt.Sprintf("%q: %s", it.Typed, text)
		}
		m.faults.add(sessions.Fault{SessionID: m.Session.ID, At: utc(it.At), Kind: string(devices.FaultGarbage), Text: text})
		return nil
	}
	r := sessions.Reading{At: utc(it.At), Value: e.V, U: e.U, Rectangular: e.Rectangular, Step: e.Step, Text: it.Typed, Instrument: sessions.TypedInstrument}
	if e.U == 0 && next.Step.Kind != sessions.Count {
		r.Limit = m.TypedLimit
	}
	var limit func(sessions.Kind) float64
	if e.Instrument != "" {
		r.Instrument = e.Instrument
		if e.U == 0 {
			r.Limit, limit = e.Limit, m.Limit
		}
	}
	return m.reading(ctx, r, limit)
}

// reading keeps a reading. limit, if not nil, is its instrument's: it tells the limit of
// error where the reading is not of the step asked for.
func (m *Measuring) reading(ctx context.Context, r sessions.Reading, limit func(sessions.Kind) float64) error {
	v := m.Progress.Judge(r)
	switch {
	case v.Undo:
		return m.undo(ctx, "jaws closed and sent: "+r.Text, r)
	case v.Done:
		m.faults.add(sessions.Fault{SessionID: m.Session.ID, At: r.At, Kind: string(NotAskedFor), Text: r.Text})
		return nil
	}
	r.SessionID, r.ClockID, r.Part = m.Session.ID, m.Session.ClockID, m.Session.Part
	if r.Part == "" {
		r.Part = m.Progress.Plan().Part
	}
	r.Dimension, r.Kind, r.State, r.Why = v.Dimension, v.Step.Kind, v.State, v.Why
	if v.Dimension == plan.Zero {
		r.Kind = sessions.Outside // those are the jaws that were closed
	}
	if limit != nil {
		r.Limit = limit(r.Kind)
	}
	if err := m.anew(ctx, r); err != nil {
		return err
	}
	var err error
	if r.ID, err = m.Store.AddReading(ctx, r); err != nil {
		return err
	}
	m.Progress.Keep(v, r.ID)
	m.Log.Debug().Int64("session", r.SessionID).Int64("reading", r.ID).Str("dimension", r.Dimension).
		Str("state", string(r.State)).Str("text", r.Text).Msg("reading in the book")
	e := Event{Kind: Kept, Reading: r}
	if r.State == sessions.Doubtful {
		e.Kind = Doubtful
	}
	return m.tell(e)
}

// anew notes with the first reading of a part that was changed that it was replaced: the
// readings before it no longer count.
func (m *Measuring) anew(ctx context.Context, first sessions.Reading) error {
	dimensions, ok := m.Progress.Anew()
	if !ok || first.State == sessions.Doubtful || first.Dimension == plan.Zero {
		return nil
	}
	e := sessions.Event{ClockID: first.ClockID, At: first.At, Kind: sessions.EventReplaced, Text: sessions.ReplacedText(first.Part, dimensions)}
	if m.Session.Started.Before(e.At) { // before what the session has read that is doubtful
		e.At = m.Session.Started
	}
	id, err := m.Store.AddEvent(ctx, e)
	if err != nil {
		return err
	}
	m.Progress.ToldAnew()
	return m.tell(Event{Kind: Replaced, Note: id})
}

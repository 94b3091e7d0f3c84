package main

import (
	"bufio"
	"slices"
	"strings"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/going"
	"evenbeat/cmd/evenbeat/internal/terminal"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// asking is how what is typed gets questioned: at a terminal a person is asked; from a
// script, or with --yes, what is odd is kept and said.
type asking struct {
	a      *app
	in     *bufio.Reader
	person bool
}

func (a *app) asking(yes bool) *asking {
	return &asking{a, bufio.NewReader(a.in), !yes && terminal.Is(a.in)}
}

// ask returns the answer to a question, "" for Enter alone. A script has answered already.
func (q *asking) ask(question string) (string, error) {
	if q.person {
		q.a.say("%s ", question)
	}
	line, err := q.in.ReadString('\n')
	if err != nil {
		return "", badCall("no answer: nothing recorded")
	}
	return strings.TrimSpace(line), nil
}

// sure has an odd thing confirmed; the error is a no.
func (q *asking) sure(odd string) error {
	if odd == "" {
		return nil
	}
	if !q.person {
		q.a.say("Warning: %s; it is kept as given.\n", odd)
		return nil
	}
	answer, err := q.ask(odd + ": is that right? Enter keeps it, n doesn't.")
	if err == nil && answer != "" && !strings.HasPrefix(strings.ToLower(answer), "y") {
		err = badCall("nothing recorded")
	}
	return err
}

// aheadMost is how far ahead of this computer's clock a time may lie without a
// remark: clocks differ. A time further ahead can still be kept, since this
// computer's clock may be the wrong one.
const aheadMost = 10 * time.Minute

// oddTime says what is unlikely of a time to be recorded, "" for nothing: that it lies
// ahead, or in a year of which nothing else is recorded. A script may begin with an old
// record.
func (a *app) oddTime(t time.Time, rec sessions.Record, person bool) string {
	const year = 366 * 24 * time.Hour
	now := a.now()
	near := func(other time.Time) bool { return t.Sub(other).Abs() < year }
	switch {
	case t.After(now.Add(aheadMost)):
		return t.Format(time.RFC3339) + " is ahead of this computer's clock"
	case near(now), !person && len(rec.Checks)+len(rec.Events) == 0,
		slices.ContainsFunc(rec.Checks, func(c sessions.Check) bool { return near(c.At) }),
		slices.ContainsFunc(rec.Events, func(e sessions.Event) bool { return near(e.At) }):
		return ""
	}
	return t.Format(time.RFC3339) + " is a year and more from now, and from all else that is recorded"
}

// settle has a doubtful check confirmed or typed again, and returns the doubt that it is
// kept with, nil for none.
func (q *asking) settle(rec sessions.Record, k *sessions.Check) (*going.Doubt, error) {
	for {
		// A record that can't be analysed is no reason to refuse a check.
		d, err := analysis.Doubt(rec, *k, analysis.GoingOptions{Zone: q.a.zone(rec.Clock)})
		if err != nil || d == nil {
			return nil, nil
		}
		if !q.person {
			q.a.say("Warning: %s It is kept, and stays out of every rate until another check confirms it.\n", d.Asks())
			return d, nil
		}
		answer, err := q.ask(d.Asks() + " Enter keeps it, or type it again:")
		if err != nil || answer == "" {
			return d, err
		}
		if v, err := quantity.ParseDialError(answer); err != nil {
			q.a.say("%v\n", err)
		} else {
			k.ErrorS = v
		}
	}
}

package page

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strings"

	"evenbeat/analysis/parts"
	"evenbeat/analysis/spring"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

// What a place of sessions is about.
const (
	modeNone      = "none"      // no session goes on
	modeGoes      = "goes"      // one that this page has started
	modeElsewhere = "elsewhere" // one of another program, as far as the book tells
)

// runView is what the templates of both places of a session get.
type runView struct {
	*texts
	path     string // of the place
	Clock    sessions.Clock
	Mode     string
	Form     form
	Ports    portList
	Profiles []string
	Session  sessions.Session
	Heard    string // what of the instruments is heard
	Notes    []string
}

func newRunView(path string, clock sessions.Clock, mode string) runView {
	return runView{texts: &texts{}, path: path, Clock: clock, Mode: mode}
}

// At is an address of the place.
func (v *runView) At(tail string) string { return addressOf(v.path, v.Clock) + tail }

// measuringView is what the template of the place gets.
type measuringView struct {
	runView
	Plans    []planChoice
	PlanName string
	Title    string // of the plan
	Cautions []string
	Asked    *asked
	Last     *shown
	Rows     []shown // the newest first
	Steps    []step
	Verdict  *verdict
	newest   int64 // reading
	undone   int   // how many were taken back
	answers  bool
	finding  sessions.Finding
	part     string
}

type planChoice struct {
	Name, Title string
	Chosen      bool
}

// asked is what is to be measured now.
type asked struct {
	What, Ask, Caution, Dimension string
	Drawing, Shows                string // address and words of the drawing of how, "" for none
}

// shown is a reading as it is shown.
type shown struct {
	ID              int64
	Dimension       string
	Number, Unit    string // as it is read from far away
	Other           string // in the other unit
	Text            string // as received
	State, Why, How string // kept, doubtful or undone
}

// step is a dimension of the plan and how far it has come.
type step struct {
	Dimension, Says string
	Now, Done       bool
}

// verdict is what the readings tell already.
type verdict struct {
	Says                    string
	Reasons, Next, Cautions []string
	Figure                  string // its address, "" for none
}

// measuringNow is the place as it stands, but for the verdict.
func (p *Page) measuringNow(ctx context.Context, clock sessions.Clock) (v *measuringView, err error) {
	if r, _ := p.runs.of(sessions.SessionMeasure, clock.ID); r != nil && !r.State().Over {
		v = p.measuringOf(clock, r.State())
	} else {
		err = p.Read(ctx, func(b *book.Book) error {
			v, err = p.measuringInBook(ctx, b, clock)
			return err
		})
		if err == nil && r != nil && r.State().Err != nil {
			v.Notes = append(v.Notes, sentence("It ended: "+p.why(r.State().Err)))
		}
	}
	return v, err
}

// measuringOf is a session that this page has started.
func (p *Page) measuringOf(clock sessions.Clock, s *live.State) *measuringView {
	v := &measuringView{runView: newRunView(measuringPath, clock, modeGoes), PlanName: s.Plan.Name, Title: s.Plan.Title, Cautions: s.Plan.Cautions,
		answers: s.Left.Answers, finding: s.Plan.Finding, part: s.Part}
	v.Session = s.Session
	v.ask(s.Next, s.Left)
	for _, r := range s.Readings {
		if r.Undone {
			r.State = sessions.Undone
		}
		v.add(p.units(), r.Reading)
	}
	v.Heard = heardOf(s)
	for _, w := range s.Warnings {
		v.Notes = append(v.Notes, p.unplaced(w))
	}
	if n := len(s.Readings); s.Faults > 0 && (n == 0 || !s.Fault.At.Before(s.Readings[n-1].At)) {
		v.Notes = append(v.Notes, "Not taken: "+s.Fault.Text)
	}
	slices.Reverse(v.Rows)
	return v
}

// heardOf says what instruments a session listens to.
func heardOf(s *live.State) string {
	if s.Typed {
		return "Readings are typed."
	}
	var at []string
	for _, x := range s.Heard {
		at = append(at, fmt.Sprintf("%s at %s", x.Profile, x.Port))
	}
	if len(at) == 0 {
		return "Waiting for the instrument: press its button."
	}
	return "Listening to the " + strings.Join(at, ", the ") + "."
}

// measuringInBook is the newest session of measuring as the book has it.
func (p *Page) measuringInBook(ctx context.Context, b *book.Book, clock sessions.Clock) (*measuringView, error) {
	v := &measuringView{runView: newRunView(measuringPath, clock, modeNone)}
	ses, ok, err := newestSession(ctx, b, clock, sessions.SessionMeasure)
	if err != nil || !ok {
		return v, err
	}
	v.Session, v.PlanName, v.part = ses, ses.Plan, ses.Part
	if ses.Ended.IsZero() {
		v.Mode = modeElsewhere
	}
	all, err := b.Readings(ctx, clock.ID)
	if err != nil {
		return nil, err
	}
	for _, r := range all {
		if r.SessionID == ses.ID {
			v.add(p.units(), r)
		}
	}
	slices.Reverse(v.Rows)
	if pl, err := p.Plan(ses.Plan); err == nil {
		progress, err := live.Begin(ctx, b, clock, pl, ses.Part, plan.Wish{})
		if err != nil {
			return nil, err
		}
		v.Title, v.Cautions, v.finding = pl.Title, pl.Cautions, pl.Finding
		v.answers = progress.Left().Answers
		if next, _ := progress.Next(); v.Mode == modeElsewhere {
			v.ask(next, progress.Left())
		}
	}
	return v, nil
}

// newestSession returns the newest session of a kind that a clock has, false for none.
func newestSession(ctx context.Context, b *book.Book, clock sessions.Clock, kind string) (s sessions.Session, ok bool, err error) {
	all, err := b.Sessions(ctx, clock.ID)
	for _, x := range all {
		if x.Kind == kind && !x.Imported() && x.ID > s.ID {
			s, ok = x, true
		}
	}
	return s, ok, err
}

// ask tells what is asked for, and how far the plan has come.
func (v *measuringView) ask(next plan.Ask, left plan.Left) {
	if next.String() != "" {
		v.Asked = &asked{What: next.String(), Ask: next.Step.Ask, Caution: next.Step.Caution, Dimension: next.Step.Dimension}
		dimension := cmp.Or(next.Step.Is, next.Step.Dimension)
		if fig, ok := plots.Step(v.finding, dimension); ok {
			v.Asked.Drawing, v.Asked.Shows = fmt.Sprintf("/steps/%s/%s", v.finding, dimension), fig.Desc
		}
		if next.Again {
			v.Asked.What += ", again to be sure"
		}
		if next.ZeroFirst {
			v.Asked.Ask += " Close the jaws and send first, to take the zero, or go straight on."
		}
	}
	for _, s := range left.Steps {
		x := step{s.Dimension, fmt.Sprintf("%d kept", s.Kept), s.Dimension == next.Step.Dimension, s.Wanted == 0 && s.Kept > 0}
		switch {
		case s.Skipped:
			x.Says += ", skipped"
		case s.Wanted > 0:
			x.Says += fmt.Sprintf(", %d wanted", s.Wanted)
		}
		v.Steps = append(v.Steps, x)
	}
}

// add adds a reading.
func (v *measuringView) add(u quantity.System, r sessions.Reading) {
	x := shown{ID: r.ID, Dimension: r.Dimension, Text: strings.TrimSpace(r.Text), State: string(r.State), Why: r.Why}
	first, second := quantity.Metric, quantity.Imperial
	if u == quantity.Imperial {
		first, second = second, first
	}
	if r.Kind == sessions.Count {
		x.Number = fmt.Sprintf("%g", r.Value)
	} else {
		decimals := 2
		if r.Step > 0 {
			decimals = min(max(0, int(math.Ceil(-math.Log10(r.Step*1e3)-1e-9))), 4)
		}
		x.Number, x.Unit, _ = strings.Cut(first.Size(r.Value, decimals), " ")
		x.Other = second.Size(r.Value, decimals)
	}
	switch v.newest = max(v.newest, r.ID); r.State {
	case sessions.Kept:
		x.How = "kept"
		if r.Why != "" {
			x.How += ": " + r.Why
		}
	case sessions.Doubtful:
		x.How = "doubtful: " + r.Why
	default:
		v.undone++
		x.How = "taken back"
	}
	v.Rows = append(v.Rows, x)
	if r.State != sessions.Undone {
		v.Last = &x
	}
}

// Spoken is the last reading as it is said aloud, once.
func (v *measuringView) Spoken() string {
	text := ""
	if len(v.Rows) > 0 {
		x := v.Rows[0]
		text = fmt.Sprintf("%s %s %s, %s.", x.Dimension, x.Number, x.Unit, x.How)
	}
	if v.Asked != nil {
		text += " Next: " + v.Asked.What + "."
	}
	return text
}

func (p *Page) units() quantity.System {
	u, err := quantity.ParseSystem(p.Settings.Units)
	if err != nil {
		return quantity.Metric
	}
	return u
}

// verdictOn returns what the readings of a part tell already, nil for nothing.
func (p *Page) verdictOn(ctx context.Context, v *measuringView) (*verdict, error) {
	if !v.answers || v.finding == "" {
		return nil, nil
	}
	from, f, err := p.judged.get(ctx, "judged", fmt.Sprint(v.Clock.ID), func(ctx context.Context, drawn string) (from string, f *plots.Findings, err error) {
		err = p.Read(ctx, func(b *book.Book) error {
			if from, err = b.Newest(ctx, v.Clock.ID); err != nil || from == drawn {
				return err
			}
			all, err := p.Judge(ctx, b, v.Clock)
			f = &all
			return err
		})
		return from, f, err
	})
	if err != nil {
		return nil, err
	}
	if v.finding != sessions.SpringFinding {
		i := slices.IndexFunc(f.Fits, func(x parts.Result) bool { return x.Part == v.part })
		if i < 0 {
			return nil, nil
		}
		x := f.Fits[i]
		return &verdict{Says: fmt.Sprintf("%s: %s", x.What, x.Verdict), Reasons: x.Reasons, Next: x.Next, Cautions: x.Cautions}, nil
	}
	all := f.Others
	if f.Spring != nil {
		all = append([]spring.Result{*f.Spring}, all...)
	}
	i := slices.IndexFunc(all, func(x spring.Result) bool { return cmp.Or(x.Part, v.part) == v.part })
	if i < 0 {
		return nil, nil
	}
	x := all[i]
	d := &verdict{Says: x.Whole.Says, Reasons: x.Matters, Next: x.Next, Cautions: x.Cautions}
	if i == 0 && f.Spring != nil {
		d.Figure = addressOf("/clocks/{id}/figures/barrel.svg", v.Clock) + "?narrow&as-of=" + url.QueryEscape(from)
	}
	return d, nil
}

package page

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"

	"evenbeat/analysis/beat"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

const timingPath = "/clocks/{id}/timing"

func timingPlace(p *Page) place {
	return place{Name: "Timing", Path: timingPath, Script: "runs.js", Routes: map[string]answer{
		"GET " + timingPath:              p.showTiming,
		"POST " + timingPath:             p.beginTiming,
		"POST " + timingPath + "/finish": p.finishTiming,
		"GET " + timingPath + "/events":  p.tellTiming,
	}}
}

func (p *Page) showTiming(w http.ResponseWriter, r *http.Request) error {
	return p.showTimingForm(w, r, http.StatusOK, form{})
}

func (p *Page) showTimingForm(w http.ResponseWriter, r *http.Request, status int, f form) error {
	clock, err := p.clock(r)
	if err != nil {
		return err
	}
	v, err := p.timingNow(r.Context(), clock)
	if err != nil {
		return err
	}
	if v.Form = f; v.Mode != modeGoes {
		if v.Ports, err = p.portsFor(sessions.SessionTime, f.values["port"]); err != nil {
			return err
		}
		if v.Profiles, err = p.profilesOf(func(kind string) bool { return live.HearsBeats(configs.Profile{Kind: kind}) }); err != nil {
			return err
		}
	}
	p.show(w, r, status, "timing.html", view{Title: "Timing", Clock: &clock, Data: v})
	return nil
}

func (p *Page) beginTiming(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	id, err := clockID(r)
	if err != nil {
		return err
	}
	name := f.Text("port")
	f.Fault("port", p.mayOpen([]string{name}))
	if name == "" {
		f.faults["port"] = "choose the port of the sensor"
	}
	one, prepare := p.timingRun(id, name, f.Text("profile"))
	return p.begin(w, r, f, one, prepare, p.showTimingForm)
}

// timingRun is a session of timing with a sensor at a port.
func (p *Page) timingRun(id int64, name, profile string) (*run, preparing) {
	one := &run{kind: sessions.SessionTime, clock: id, ports: []string{name}}
	return one, func(ctx context.Context, b *book.Book) (func(context.Context) error, error) {
		clock, ok, err := clockOf(ctx, b, id)
		if err != nil || !ok {
			return nil, cmp.Or(err, errNoClock)
		}
		o, err := p.Timing(ctx, b, clock)
		if err != nil {
			return nil, err
		}
		in, err := p.Beats(name, profile, o.Now, func(error) {})
		if err != nil {
			return nil, &live.CallError{Err: err}
		}
		t := p.NewTiming(clock, in, o)
		p.runs.put(func() { one.face, one.timing = t, t })
		return func(ctx context.Context) error {
			err := t.Run(ctx, b)
			if _, few := errors.AsType[*beat.TooFewError](err); few {
				return nil // it is only short
			}
			return err
		}, nil
	}
}

func (p *Page) finishTiming(w http.ResponseWriter, r *http.Request) error {
	id, err := clockID(r)
	if err != nil {
		return err
	}
	one := p.runs.goes(sessions.SessionTime, id)
	if one == nil {
		return refuse(http.StatusConflict, "No timing session is running for this clock.")
	}
	err = one.answers(r.Context(), func(live.Event) bool { return false }, func(context.Context) error {
		one.timing.Finish()
		return nil
	})
	if err != nil {
		return err
	}
	p.goTo(w, r, addressOf(timingPath, sessions.Clock{ID: id}), "finished")
	return nil
}

// timingView is what the template of the place gets.
type timingView struct {
	runView
	Silent  bool
	Rate    *rateShown
	Even    *evenness
	Figures [][2]string
	Next    []string
	Sure    []string // what is said aloud once it is so
}

// rateShown is the rate as one interval on a line that is 200 long.
type rateShown struct {
	Says             string
	Left, Right      string // what the line's ends are
	From, Long, Best float64
}

// evenness is the beat as two lengths side by side, of a line that is 100 long.
type evenness struct {
	Says       string
	Tick, Tock float64
	TickText   string
	TockText   string
}

// timingNow is the place as it stands.
func (p *Page) timingNow(ctx context.Context, clock sessions.Clock) (*timingView, error) {
	v := &timingView{runView: newRunView(timingPath, clock, modeNone)}
	one, _ := p.runs.of(sessions.SessionTime, clock.ID)
	if one != nil && !one.State().Over {
		return p.timingOf(clock, one.State()), nil
	}
	if one != nil {
		if err := one.State().Err; err != nil {
			v.Notes = append(v.Notes, sentence("It ended: "+p.why(err)))
		}
	}
	ok := false
	err := p.Read(ctx, func(b *book.Book) (err error) {
		v.Session, ok, err = newestSession(ctx, b, clock, sessions.SessionTime)
		return err
	})
	if err != nil || !ok {
		return v, err
	}
	if v.Session.Ended.IsZero() {
		v.Mode = modeElsewhere
	}
	_, f, err := p.findings(ctx, clock.ID)
	if err == nil && f.Rate != nil && f.Rate.Session == v.Session.ID {
		v.find(*f.Rate)
	}
	return v, err
}

// timingOf is a session that this page has started.
func (p *Page) timingOf(clock sessions.Clock, s *live.State) *timingView {
	v := &timingView{runView: newRunView(timingPath, clock, modeGoes), Silent: s.Silent}
	v.Session = s.Session
	switch {
	case s.Session.ID == 0:
		v.Heard = "Waiting for the sensor to speak."
	case v.Silent:
		v.Heard = fmt.Sprintf("Nothing heard for %s. Is the clock going? Is the sensor in place?", quantity.SpanWords(math.Floor(s.Quiet.Seconds())))
	default:
		v.Heard = fmt.Sprintf("Listening to the %s at %s: %d %s in the book.", s.Session.Profile, s.Session.Port, s.Beats, quantity.Plural(s.Beats, "beat is", "beats are"))
	}
	for _, w := range s.Warnings {
		v.Notes = append(v.Notes, p.unplaced(w))
	}
	if s.Faults > 0 {
		v.Notes = append(v.Notes, sentence(fmt.Sprintf("%s, at %s: %s", s.Fault.Kind, s.Fault.At.Local().Format("15:04:05"), s.Fault.Text)))
	}
	if s.Estimate != nil && s.Estimate.Err == nil {
		v.find(s.Estimate.Result)
	}
	return v
}

// find shows what the beats tell.
func (v *timingView) find(f beat.Result) {
	v.Rate, v.Even = rateOf(f.Rate.Value), evennessOf(f)
	v.Figures = render.RateFigures(f)
	for _, w := range f.Warnings {
		v.Notes = append(v.Notes, sentence(w))
	}
	v.Next = f.Next
	v.Sure = append(v.Sure, v.Rate.Says)
	for _, w := range f.Wheels {
		if w.Significant {
			v.Sure = append(v.Sure, "A periodic error of the "+w.Name+" arbor is sure.")
		}
	}
}

// rateOf draws a rate on a line whose scale closes in as the interval does: its ends lie
// round numbers apart, and what is in the middle is round too.
func rateOf(q quantity.Value) *rateShown {
	r := &rateShown{Says: "The clock " + q.GainText("gains", "loses") + "."}
	half := q.Half95()
	if !(half > 0 && half < 1e6) {
		return r
	}
	reach := math.Pow(10, math.Ceil(math.Log10(half/0.7)))
	middle := math.Round(q.V/(reach/2)) * reach / 2
	at := func(x float64) float64 { return 100 + 100*(x-middle)/reach }
	r.From, r.Best = at(q.V-half), at(q.V)
	if r.Long = at(q.V+half) - r.From; r.Long < 2 {
		r.From, r.Long = r.Best-1, 2
	}
	decimals := max(0, int(math.Ceil(-math.Log10(reach/2))))
	text := func(x float64) string { return quantity.Minus(fmt.Sprintf("%+.*f", decimals, x)) }
	r.Left, r.Right = text(middle-reach), text(middle+reach)
	return r
}

// evennessOf compares tick with tock; nil where only one side is heard.
func evennessOf(f beat.Result) *evenness {
	if !(f.TickTock.U > 0) || !(f.IntervalS > 0) {
		return nil
	}
	in, told := f.InBeat()
	says := "Whether it is in beat can't be told yet."
	switch {
	case told && in:
		says = "It is in beat."
	case told:
		says = "It is out of beat: move the crutch until tick and tock are equal."
	}
	says += " The beat error is " + beat.InMs(f.BeatError, quantity.Value.Text) + "."
	tick, tock := f.IntervalS+f.TickTock.V/2, f.IntervalS-f.TickTock.V/2
	long := 100 / max(tick, tock)
	return &evenness{says, tick * long, tock * long, fmt.Sprintf("%.1f ms", tick*1e3), fmt.Sprintf("%.1f ms", tock*1e3)}
}

// tellTiming streams the place Timing. What has become sure is said aloud once.
func (p *Page) tellTiming(w http.ResponseWriter, r *http.Request) error {
	said, silent, begun := -1, false, false
	return p.follow(w, r, sessions.SessionTime, "timing.html", func(ctx context.Context, t *teller, clock sessions.Clock, at asOf) error {
		v, err := p.timingSeen(ctx, clock, at)
		if err != nil {
			return err
		}
		if err := t.mode(v.Mode); err != nil {
			return err
		}
		for _, name := range []string{"heard", "rate", "even", "figures", "notes"} {
			if err := t.part(v.Session.ID, name, v); err != nil {
				return err
			}
		}
		text := ""
		switch {
		case v.Silent != silent:
			text = v.Heard
		case v.Rate != nil && len(v.Sure) > said:
			text = v.Sure[len(v.Sure)-1]
		}
		if silent, said = v.Silent, max(said, len(v.Sure)); text == "" || !begun {
			begun = true
			return nil
		}
		return t.Send(0, "say", []byte(text))
	})
}

// timingSeen is the place as it stands. It is shared.
func (p *Page) timingSeen(ctx context.Context, clock sessions.Clock, at asOf) (*timingView, error) {
	return see(ctx, p.sights.of(sessions.SessionTime, clock.ID), at, restFor, func() (*timingView, error) {
		if at.one != nil {
			return p.timingOf(clock, at.one.State()), nil
		}
		return p.timingNow(ctx, clock)
	})
}

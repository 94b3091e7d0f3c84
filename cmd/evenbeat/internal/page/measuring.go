package page

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

const measuringPath = "/clocks/{id}/measuring"

func measuringPlace(p *Page) place {
	return place{Name: "Measuring", Path: measuringPath, Script: "runs.js", Routes: map[string]answer{
		"GET " + measuringPath:             p.showMeasuring,
		"POST " + measuringPath:            p.beginMeasuring,
		"POST " + measuringPath + "/do":    p.doMeasuring,
		"GET " + measuringPath + "/events": p.tellMeasuring,
	}}
}

func (p *Page) showMeasuring(w http.ResponseWriter, r *http.Request) error {
	return p.showMeasuringForm(w, r, http.StatusOK, form{})
}

// showMeasuringForm shows the place, with a form that was posted.
func (p *Page) showMeasuringForm(w http.ResponseWriter, r *http.Request, status int, f form) error {
	clock, err := p.clock(r)
	if err != nil {
		return err
	}
	v, err := p.measuringNow(r.Context(), clock)
	if err != nil {
		return err
	}
	if v.Verdict, err = p.verdictOn(r.Context(), v); err != nil {
		return err
	}
	if err := p.offerMeasuring(v, f); err != nil {
		return err
	}
	p.show(w, r, status, "measuring.html", view{Title: "Measuring", Clock: &clock, Data: v})
	return nil
}

// beginMeasuring begins a session of measuring as the form says.
func (p *Page) beginMeasuring(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	run, prepare, err := p.readMeasuring(r, &f)
	if err != nil {
		return err
	}
	return p.begin(w, r, f, run, prepare, p.showMeasuringForm)
}

// readMeasuring reads the form of a session of measuring, and marks in it what is wrong.
func (p *Page) readMeasuring(r *http.Request, f *form) (*run, preparing, error) {
	id, err := clockID(r)
	if err != nil {
		return nil, nil, err
	}
	chosen, err := p.Plan(f.Text("plan"))
	f.Fault("plan", err)
	part := f.Text("part")
	if part != "" {
		f.Fault("part", quantity.CheckName("part", part))
	}
	ports := f.values["port"]
	f.Fault("port", p.mayOpen(ports))
	wish := plan.Wish{Anew: f.Text("anew") != ""}
	if only := f.Text("only"); only != "" {
		wish.Only = []string{only}
	}
	profile := f.Text("profile")
	if profile != "" && len(ports) > 1 {
		f.Fault("profile", refuse(0, "several instruments are recognised by what they send: choose no profile, or one port"))
	}
	one := &run{kind: sessions.SessionMeasure, clock: id, ports: ports}
	return one, func(ctx context.Context, b *book.Book) (func(context.Context) error, error) {
		clock, ok, err := clockOf(ctx, b, id)
		if err != nil || !ok {
			return nil, cmp.Or(err, errNoClock)
		}
		progress, err := live.Begin(ctx, b, clock, chosen, part, wish)
		if err != nil {
			return nil, err
		}
		if _, more := progress.Next(); !more {
			return nil, &live.CallError{Err: errors.New("all of this plan is measured already: name below a dimension to measure again, or say that the part was changed")}
		}
		o := live.MeasuringOptions{Clock: clock, Progress: progress, Part: part, Now: port.HostClock()}
		if o.Inputs, err = p.instruments(ctx, ports, profile, o.Now); err != nil {
			return nil, err
		}
		m := p.NewMeasuring(o)
		p.runs.put(func() { one.face, one.measuring = m, m })
		return func(ctx context.Context) error { return m.Run(ctx, b) }, nil
	}, nil
}

// instruments opens ports for instruments that measure lengths.
func (p *Page) instruments(ctx context.Context, ports []string, profile string, now func() devices.Stamp) (all []live.Input, err error) {
	for _, name := range ports {
		in, err := p.Lengths(name, profile, now, func(error) {})
		if err != nil {
			for _, in := range all {
				_ = in.Close(ctx) // it was never read: there is nothing to lose
			}
			return nil, &live.CallError{Err: err}
		}
		all = append(all, in...)
	}
	return all, nil
}

// offerMeasuring adds what the form offers, where a session may begin.
func (p *Page) offerMeasuring(v *measuringView, f form) (err error) {
	v.Form = f
	if v.Mode == modeGoes {
		return nil
	}
	plans, err := p.Plans()
	if err != nil {
		return err
	}
	for _, x := range plans {
		v.Plans = append(v.Plans, planChoice{x.Name, x.Title, x.Name == cmp.Or(f.Text("plan"), v.PlanName, "mainspring")})
	}
	if v.Ports, err = p.portsFor(sessions.SessionMeasure, f.values["port"]); err != nil {
		return err
	}
	v.Profiles, err = p.profilesOf(func(kind string) bool { return live.MeasuresLengths(configs.Profile{Kind: kind}) })
	return err
}

// doMeasuring gives a command to the session, or takes back a reading of any.
func (p *Page) doMeasuring(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	id, err := clockID(r)
	if err != nil {
		return err
	}
	one, back := p.runs.goes(sessions.SessionMeasure, id), f.Text("back")
	if back != "" {
		n, err := strconv.ParseInt(back, 10, 64)
		if err != nil {
			return refuse(http.StatusUnprocessableEntity, "That is not the number of a reading.")
		}
		if one == nil || !slices.ContainsFunc(one.State().Readings, func(x live.Reading) bool { return x.ID == n }) {
			return p.takeBackReading(w, r, n)
		}
		f.values.Set("back", strconv.FormatInt(n, 10))
	}
	if one == nil {
		return refuse(http.StatusConflict, "No measuring session is running for this clock.")
	}
	if err := one.command(r.Context(), f); err != nil {
		return err
	}
	p.goTo(w, r, addressOf(measuringPath, sessions.Clock{ID: id}), map[bool]string{true: "finished"}[f.Text("do") == "finish"])
	return nil
}

// commands are what the buttons of the place ask for.
var commands = map[string]recorder.Command{"undo": recorder.Undo, "skip": recorder.Skip, "again": recorder.Repeat, "finish": recorder.Finish}

// command does what a form asks for, and waits for what becomes of it.
func (r *run) command(ctx context.Context, f form) error {
	m := r.measuring
	do := func(ctx context.Context) error { return m.Type(ctx, f.Text("line")) }
	c := commands[f.Text("do")]
	switch {
	case c != 0:
		do = func(ctx context.Context) error { return m.Do(ctx, c) }
	case f.Text("jump") != "":
		do = func(ctx context.Context) error { return m.Jump(ctx, f.Text("jump")) }
	case f.Text("back") != "":
		n, _ := strconv.ParseInt(f.Text("back"), 10, 64) // it was read already
		do = func(ctx context.Context) error { return m.TakeBack(ctx, n) }
	case f.Text("line") == "":
		return refuse(http.StatusUnprocessableEntity, "Type a reading first, such as 63.48mm.")
	}
	return r.answers(ctx, func(e live.Event) bool {
		switch e.Kind {
		case recorder.Kept, recorder.Doubtful, recorder.Undone, recorder.Skipped, recorder.Repeated, recorder.Jumped, recorder.NothingToDo, recorder.Faulty, live.Warning:
			return c != recorder.Finish
		}
		return false
	}, do)
}

// takeBackReading takes back a reading of the clock that no session of this page has.
func (p *Page) takeBackReading(w http.ResponseWriter, r *http.Request, n int64) error {
	return p.withClock(r, func(b *book.Book, c sessions.Clock) error {
		all, err := b.Readings(r.Context(), c.ID)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(all, func(x sessions.Reading) bool { return x.ID == n }) {
			return refuse(http.StatusNotFound, "This clock has no such reading.")
		}
		if err := b.Withdraw(r.Context(), book.ThingReading, n, "taken back on the bench page"); err != nil {
			return err
		}
		p.goTo(w, r, addressOf(measuringPath, c), "back")
		return nil
	})
}

package page

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/port"
)

const instrumentsPath = "/instruments"

func instrumentsPlace(p *Page) place {
	return place{Name: "Instruments", Path: instrumentsPath, Routes: map[string]answer{
		"GET " + instrumentsPath:              p.showInstruments,
		"GET " + instrumentsPath + "/events":  p.tellInstruments,
		"POST " + instrumentsPath + "/listen": p.listenAt,
		"POST " + instrumentsPath + "/do":     p.doInstruments,
	}}
}

// instruments are the ports of this computer, and what is heard at some of them.
type instruments struct {
	Form     form
	Ports    portList
	Profiles []string
	Heard    []heardAt
}

func (p *Page) showInstruments(w http.ResponseWriter, r *http.Request) error {
	return p.showInstrumentsForm(w, r, http.StatusOK, form{})
}

func (p *Page) showInstrumentsForm(w http.ResponseWriter, r *http.Request, status int, f form) (err error) {
	v := instruments{Form: f, Heard: p.ears.heard()}
	if v.Ports, err = p.portsFor("", f.values["port"]); err != nil {
		return err
	}
	if v.Profiles, err = p.profilesOf(func(string) bool { return true }); err != nil {
		return err
	}
	p.show(w, r, status, "instruments.html", view{Title: "Instruments", Data: v})
	return nil
}

// tellInstruments streams which ports there are, and what is heard at each.
func (p *Page) tellInstruments(w http.ResponseWriter, r *http.Request) error {
	return p.stream(w, r, func(ctx context.Context, s *stream) error {
		ctx, stop := context.WithCancel(ctx)
		listed := make(chan error, 1)
		go func() {
			defer stop()
			listed <- p.tellPorts(ctx, s, "instruments.html", "")
		}()
		err := p.tellHeard(ctx, s)
		stop()
		return errors.Join(err, <-listed)
	})
}

// tellHeard tells a browser what is heard at each port that this page listens at.
func (p *Page) tellHeard(ctx context.Context, s *stream) error {
	had := map[string][]byte{}
	tick := time.NewTicker(p.limits.look)
	defer tick.Stop()
	for {
		for _, h := range p.ears.heard() {
			text, err := set("instruments.html", "heard", h)
			if err != nil {
				return err
			}
			if bytes.Equal(text, had[h.Port]) {
				continue
			}
			if had[h.Port] = text; s.Send(0, "at "+h.Port, text) != nil {
				return nil
			}
		}
		select {
		case <-tick.C:
		case <-ctx.Done():
			return nil
		}
	}
}

// listenAt begins to listen at a port.
func (p *Page) listenAt(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	name := f.Text("port")
	if f.Fault("port", p.mayOpen([]string{name})); name == "" {
		f.faults["port"] = "Choose a port. If this page lists no port, plug the instrument in."
	}
	if !f.Bad() {
		f.Fault("port", p.hear(name, f.Text("profile")))
	}
	if f.Bad() {
		return p.showInstrumentsForm(w, r, http.StatusUnprocessableEntity, f)
	}
	p.goTo(w, r, instrumentsPath, "listening")
	return nil
}

// hear listens at a port, by a profile or for whatever is recognised.
func (p *Page) hear(name, profile string) error {
	if o := p.ears.at(name); o != nil && !o.heard().Over {
		return refuse(0, "This page listens at %s already.", name)
	}
	e := &ear{name: name, said: "Listening: press the instrument's button, or let the clock beat.", gone: make(chan struct{}),
		held: &run{kind: "listen at " + name, ports: []string{name}}} // of one kind there is one
	if err := p.runs.claim(e.held); err != nil {
		return err
	}
	listen, err := p.open(e, profile)
	if err != nil {
		p.runs.ended(e.held)
		return refuse(0, "%s", p.why(err))
	}
	ctx, stop := context.WithCancel(p.runs.ctx)
	e.stop = stop
	p.ears.add(e)
	p.runs.going.Go(func() {
		defer stop()
		err := listen(ctx)
		if err != nil {
			p.Log.Error().Err(err).Str("port", name).Msg("bench page: a port is no longer heard")
			err = refuse(0, "%s", p.why(err))
		}
		e.end(err)
		p.runs.ended(e.held)
		close(e.gone)
	})
	return nil
}

// open opens an ear's port, and returns what listens at it.
func (p *Page) open(e *ear, profile string) (func(context.Context) error, error) {
	if profile != "" {
		ins, err := p.Instrument(profile)
		if err != nil {
			return nil, err
		}
		in, err := p.Open(e.name, ins, port.HostClock())
		if err != nil {
			return nil, err
		}
		e.said = fmt.Sprintf("Listening as the profile %s says: press the instrument's button.", profile)
		return func(ctx context.Context) error { return in.Source.Run(ctx, e.take) }, nil
	}
	s, err := p.NewSearch(live.SearchOptions{Port: e.name, Expected: "text-length", Anything: true, Pins: true, Now: port.HostClock(), Tap: e.tap}, e.warn)
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context) error {
		h, _, err := s.Find(ctx, e.step, e.warn)
		if h == nil || err != nil {
			return err
		}
		e.found(h)
		return h.Run(ctx, passed) // the tap has heard it
	}, nil
}

// doInstruments stops listening at a port, or begins or ends a capture of it.
func (p *Page) doInstruments(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	e := p.ears.at(f.Text("port"))
	if e == nil {
		return refuse(http.StatusConflict, "This page no longer listens at this port.")
	}
	do := f.Text("do")
	switch do {
	case "stop":
		e.stop()
		select {
		case <-e.gone:
		case <-r.Context().Done():
			return r.Context().Err()
		}
		p.ears.drop(e)
	case "capture":
		err = e.keep(live.RawFolder(p.Settings.Book), p.Now())
	case "captured":
		err = e.keepNoMore()
	default:
		err = refuse(http.StatusBadRequest, "There is no such button.")
	}
	if err != nil {
		return err
	}
	p.goTo(w, r, instrumentsPath, do)
	return nil
}

package page

import (
	"bytes"
	"context"
	"net/http"
	"slices"
	"time"

	"evenbeat/devices/port"
	"evenbeat/sessions"
)

// mayOpen refuses a port that this computer doesn't list.
func (p *Page) mayOpen(names []string) error {
	all, err := p.Ports()
	if err != nil {
		return err
	}
	for _, name := range names {
		if !slices.ContainsFunc(all, func(i port.Info) bool { return i.Name == name }) {
			return refuse(http.StatusUnprocessableEntity, "This computer lists no port %s: plug the instrument in and choose again.", name)
		}
	}
	return nil
}

// portList is what a form lets choose from.
type portList struct {
	Input string // the input element of a port
	All   []portChoice
}

// portChoice is a port to choose in a form.
type portChoice struct {
	Name, Says string
	Chosen     bool
}

// portsFor are the ports there are for a kind of session, those of a form chosen. "" is no
// session: all that is known of each port is told then.
func (p *Page) portsFor(kind string, chosen []string) (portList, error) {
	l := portList{Input: "radio"}
	if kind == sessions.SessionMeasure { // several instruments can be used at once
		l.Input = "checkbox"
	}
	all, err := p.Ports()
	for _, i := range all {
		says := i.USB.Text
		if i.Given || kind == "" {
			says = i.Identity()
		}
		l.All = append(l.All, portChoice{i.Name, says, slices.Contains(chosen, i.Name)})
	}
	return l, err
}

// tellPorts tells a browser which ports there are for a kind of session: as soon as it is
// there, and each time an instrument was plugged in or pulled out.
func (p *Page) tellPorts(ctx context.Context, s *stream, file, kind string) error {
	tick := time.NewTicker(p.limits.ports)
	defer tick.Stop()
	for had := []byte(nil); ; {
		if is, err := p.portsFor(kind, nil); err != nil {
			p.Log.Debug().Err(err).Msg("bench page") // they may be listed the next time
		} else if text, err := set(file, "port-list", is); err != nil {
			return err
		} else if !bytes.Equal(text, had) {
			if had = text; s.Send(0, "ports", text) != nil {
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

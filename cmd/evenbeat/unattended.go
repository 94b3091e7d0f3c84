package main

import (
	"context"
	"errors"
	"net"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/port"
)

// notify sends a state to the socket of the service manager, as sd_notify(3) describes.
// A session goes on without it.
func (a *app) notify(socket, state string) {
	c, err := net.Dial("unixgram", socket)
	if err == nil {
		_, err = c.Write([]byte(state))
		err = errors.Join(err, c.Close())
	}
	if err != nil {
		a.log.Warn().Err(err).Str("state", state).Msg("telling the service manager")
	}
}

// awaited opens a port, and with wait looks each second until it is there. It returns no
// error when ctx ends before: ctx tells.
func (a *app) awaited(ctx context.Context, wait bool, open func() (live.Input, error)) (live.Input, error) {
	for told := false; ; told = true {
		in, err := open()
		e, ok := errors.AsType[*port.Error](err)
		if !wait || !ok || e.Kind != port.NoSuchPort {
			return in, err
		}
		if !told {
			a.say("%s is not there yet: waiting for it. Ctrl-C ends.\n", e.Port)
		}
		select {
		case <-time.After(time.Second):
		case <-ctx.Done():
			return in, nil
		}
	}
}

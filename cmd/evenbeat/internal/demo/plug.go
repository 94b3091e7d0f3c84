package demo

import (
	"context"
	"errors"
	"io"

	"github.com/rs/zerolog"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/simulate"
)

// plug connects a simulated instrument to the program: through a pseudo-terminal that
// is opened like any serial port, or through a pipe where the system has none.
func (s *Scene) plug(profile string) (*simulate.Link, live.Input, error) {
	ins, err := s.bench.Instrument(profile)
	if err != nil {
		return nil, live.Input{}, err
	}
	link, err := simulate.Pair()
	if err != nil {
		return nil, live.Input{}, err
	}
	var src live.Source = pipe{link.Host, s.lab, s.bench.Log}
	if link.Name != "" {
		p, err := port.Open(link.Name, port.Options{Settings: ins.Settings, Now: s.lab.Now, Log: s.bench.Log})
		if err != nil {
			return nil, live.Input{}, errors.Join(err, link.Close())
		}
		src = p
		s.line = " through " + link.Name
	} else {
		s.line = " through a pipe: this system has no pseudo-terminals"
	}
	return link, live.Input{Instrument: ins, Port: link.Name, Source: consuming{src, s.lab}}, nil
}

// consuming tells the simulated bench how many bytes were taken. Its virtual time
// waits for that.
type consuming struct {
	live.Source
	bench *simulate.Bench
}

func (c consuming) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	return c.Source.Run(ctx, func(k devices.Chunk) error {
		err := deliver(k)
		c.bench.Consumed(len(k.Bytes))
		return err
	})
}

// pipe is the line of a system without pseudo-terminals.
type pipe struct {
	host  io.ReadCloser
	bench *simulate.Bench
	log   zerolog.Logger
}

func (p pipe) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	stop := context.AfterFunc(ctx, func() {
		if err := p.host.Close(); err != nil {
			p.log.Warn().Err(err).Msg("a simulated line was not closed")
		}
	})
	defer stop()
	buf := make([]byte, 4096)
	for {
		n, err := p.host.Read(buf)
		if n > 0 {
			if err := deliver(devices.Chunk{At: p.bench.Now(), Bytes: buf[:n]}); err != nil {
				return err
			}
		}
		if err != nil {
			return nil // the instrument was unplugged, or ctx ended
		}
	}
}

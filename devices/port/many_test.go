//go:build unix

package port

import (
	"context"
	"errors"
	"fmt"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/beat"
	"evenbeat/devices/quantity"
)

// Many instruments at once, each as fast as its line takes it: no beat is lost, and
// none comes twice. The sequence numbers would tell.
func TestManyPortsLoseNothing(t *testing.T) {
	const ports, beats = 64, 500
	done := make(chan error, 2*ports)
	for range ports {
		i := plugIn(t)
		p, err := Open(i.name, Options{})
		if err != nil {
			t.Fatal(err)
		}
		ctx, stop := context.WithCancel(t.Context())
		go func() {
			d := beat.CountLines().New(quantity.NoUnit)
			var said []devices.Said
			next := uint64(0)
			err := p.Run(ctx, func(c devices.Chunk) error {
				said = d.Decode(said[:0], c)
				for _, s := range said {
					if s.Kind != devices.KindBeat || s.Beat.Seq != next {
						return fmt.Errorf("got %+v, want beat %d", s, next)
					}
					if next++; next == beats {
						stop()
					}
				}
				return nil
			})
			if err == nil && next != beats {
				err = fmt.Errorf("%d beats arrived, want %d", next, beats)
			}
			stop()
			done <- err
		}()
		go func() {
			var err error
			for n := range beats {
				_, werr := fmt.Fprintf(i.master, "%d,1,%d\r\n", 4000000000+int64(n), n)
				err = errors.Join(err, werr)
			}
			done <- err
		}()
	}
	for range 2 * ports {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}

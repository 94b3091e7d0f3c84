package recorder

import (
	"bytes"
	"context"
	"testing"

	"github.com/rs/zerolog"
)

type unfoldable struct{ err error }

func (u *unfoldable) Checkpoint(context.Context) error { return u.err }

// A log that can't be folded in is told of once, and again after it could be.
func TestFailedCheckpointsAreToldOnce(t *testing.T) {
	var log bytes.Buffer
	store := &unfoldable{}
	c := newCheckpoints(store, zerolog.New(&log))
	for i, step := range []struct {
		err  error
		told int
	}{{nil, 0}, {errNoRoom, 1}, {errNoRoom, 1}, {errNoRoom, 1}, {nil, 1}, {errNoRoom, 2}, {errNoRoom, 2}} {
		store.err = step.err
		c.now(t.Context())
		if told := bytes.Count(log.Bytes(), []byte("was not folded")); told != step.told {
			t.Errorf("step %d: told %d times, want %d", i, told, step.told)
		}
	}
}

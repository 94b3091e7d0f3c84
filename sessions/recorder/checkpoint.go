package recorder

import (
	"context"
	"time"

	"github.com/rs/zerolog"
)

// checkpointAfter bounds how long what is on the disk may lie in the book's log alone: a
// copy of the book's file, without its log, is as old as that and no older.
const checkpointAfter = 2 * time.Second

// checkpoints folds the log into the book's file, checkpointAfter after the first write
// that isn't there yet. Nothing runs while nothing is written.
type checkpoints struct {
	store interface{ Checkpoint(context.Context) error }
	log   zerolog.Logger
	timer *time.Timer
	due   bool
	// failed tells that the last one failed. A disk that stays full is told of once.
	failed bool
}

func newCheckpoints(store interface{ Checkpoint(context.Context) error }, log zerolog.Logger) *checkpoints {
	c := &checkpoints{store: store, log: log, timer: time.NewTimer(checkpointAfter)}
	c.timer.Stop()
	return c
}

// written says that there may be something new in the log.
func (c *checkpoints) written() {
	if !c.due {
		c.due = true
		c.timer.Reset(checkpointAfter)
	}
}

// now folds the log in. What is in the log is on the disk, so a failure loses nothing, and
// the next write has it tried again.
func (c *checkpoints) now(ctx context.Context) {
	c.due = false
	c.timer.Stop()
	err := c.store.Checkpoint(ctx)
	if err != nil && !c.failed {
		c.log.Warn().Err(err).Msg("the book's log was not folded into its file")
	}
	c.failed = err != nil
}

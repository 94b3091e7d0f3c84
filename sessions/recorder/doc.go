// Package recorder joins what instruments say with the plan in hand and the book.
// Each session has one goroutine that writes: Run takes from a bounded queue, in
// order, and tells of a thing only once it is on the disk. A full queue makes the
// sender wait; nothing is dropped.
//
// Every time is the stamp that came with the data, so that a recording played back
// is recorded as the instrument was.
package recorder

import (
	"context"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/sessions"
)

// NotAskedFor is the kind of fault for what was heard and read rightly but has no
// place in the session: a reading after the plan's end, a force where a length is
// wanted. Its text is kept.
const NotAskedFor devices.FaultKind = "not asked for"

// Send puts v into a queue that Run reads. It waits while the queue is full and
// gives up, reporting false, when ctx ends.
func Send[T any](ctx context.Context, queue chan<- T, v T) bool {
	select {
	case queue <- v:
		return true
	case <-ctx.Done():
		return false
	}
}

func utc(s devices.Stamp) time.Time { return time.Unix(0, s.UTC).UTC() }

// fault is what the book keeps of a fault, or of a thing that has no place here.
func fault(session int64, s devices.Said, kind devices.FaultKind) sessions.Fault {
	return sessions.Fault{SessionID: session, At: utc(s.At), Kind: string(kind), Text: s.Text}
}

// endSession ends a session in the book at the last stamp it had. It returns err,
// by which the session ended, before an error of its own.
func endSession(ctx context.Context, store interface {
	EndSession(ctx context.Context, id int64, at time.Time) error
}, ses sessions.Session, last devices.Stamp, log zerolog.Logger, err error) error {
	end := ses.Started
	if last != (devices.Stamp{}) {
		end = utc(last)
	}
	endErr := store.EndSession(ctx, ses.ID, end)
	if err == nil {
		return endErr
	}
	if endErr != nil {
		log.Error().Err(endErr).Int64("session", ses.ID).Msg("session not ended in the book")
	}
	return err
}

// ReadAnew is the kind of fault that ends a session whose lines proved to be of another
// format than they were taken for. The next session holds all of them.
const ReadAnew devices.FaultKind = "read anew"

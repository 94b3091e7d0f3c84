package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"iter"
	"strings"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// importedRate is the rate of the made-up counter that imported beats carry:
// nanoseconds, so that nothing of time_s is lost.
const importedRate = 1e9

// beats brings a run of beats into the book as a timing session. A year of them doesn't
// fit into memory, so they go from the file to the book as they are read.
func (i *importing) beats(ctx context.Context) error {
	return i.withInput(i.name, func(in io.Reader) error {
		p := i.streams().Progress("importing "+i.name, sizeOf(in), i.now)
		defer p.End()
		rows, err := openCSV(bufio.NewReaderSize(p.Reader(in), 1<<16), mostBeats, rowColumns["beats"].must...)
		if err != nil {
			return i.wrong(err)
		}
		return i.into(ctx, func(whose owners) (book.Incoming, error) {
			clock, err := whose.of("")
			if err != nil {
				return book.Incoming{}, err
			}
			now := i.now()
			out := book.Incoming{Session: importedSession(clock.ID, now), Beats: beatsOf(rows, clock, now)}
			if clock.ID == 0 {
				out.Clock = clock
			}
			return out, nil
		})
	})
}

// importedSession is the session that imported beats go into. The file doesn't say
// when they were heard, so the session has the time of the import.
func importedSession(clock int64, at time.Time) sessions.Session {
	return sessions.Session{ClockID: clock, Kind: sessions.SessionTime, Started: at, Ended: at,
		Timing: sessions.Timing{CountRate: importedRate, CountBits: 64}}
}

// importedBeat is a beat so many nanoseconds after the run's start.
func importedBeat(ns int64, start time.Time) sessions.Beat {
	return sessions.Beat{Count: uint64(ns), HostMono: ns, HostUTC: start.UnixNano() + ns}
}

// beatsOf yields the rows index,time_s,state as beats, some thousands at a step. Only the
// times are taken: analysis finds index and state again.
func beatsOf(rows *csvRows, clock sessions.Clock, start time.Time) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		chunk := make([]sessions.Beat, 0, 4096)
		for last := int64(0); ; {
			ns, err := nextBeat(rows, clock, last)
			if errors.Is(err, io.EOF) {
				yield(chunk, nil)
				return
			}
			if err != nil {
				yield(nil, err)
				return
			}
			last = ns
			chunk = append(chunk, importedBeat(ns, start))
			if len(chunk) == cap(chunk) {
				if !yield(chunk, nil) {
					return
				}
				chunk = chunk[:0]
			}
		}
	}
}

func nextBeat(rows *csvRows, clock sessions.Clock, last int64) (int64, error) {
	r, err := rows.next()
	if err != nil {
		return 0, ofFile(err)
	}
	if name := r.cell("clock"); name != "" && !strings.EqualFold(name, clock.Name) {
		return 0, r.wrong("it is of the clock %q, and the beats go to %s: name it with --clock", name, clock.Name)
	}
	t, err := r.need("time_s")
	if err != nil {
		return 0, err
	}
	return beatTime(r, t, last)
}

// ofFile marks an error of reading a file, so that it is told from one of the book.
func ofFile(err error) error {
	if _, ok := errors.AsType[*rowError](err); ok || errors.Is(err, io.EOF) {
		return err
	}
	return &rowError{err: err}
}

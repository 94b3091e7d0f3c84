package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strconv"
	"time"

	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// importedRate is the rate of the made-up counter that imported beats carry:
// nanoseconds, so that nothing of time_s is lost.
const importedRate = 1e9

// importBeats brings a run of beats into the book as a timing session. A year of
// them doesn't fit into memory, so they go from the file to the book as they are
// read, in one transaction.
func (a *app) importBeats(ctx context.Context, name string) error {
	return a.withInput(name, func(in io.Reader) error {
		p := a.streams().Progress("importing "+name, sizeOf(in), a.now)
		defer p.End()
		rows := &beatRows{in: csv.NewReader(bufio.NewReaderSize(p.Reader(in), 1<<16))}
		if err := rows.head(); err != nil {
			return badCall("%s: %w: nothing was imported", name, err)
		}
		return a.withWritableClock(ctx, func(b *book.Book, clock sessions.Clock) error {
			started := a.now()
			_, err := b.ImportBeats(ctx, importedSession(clock.ID, started), rows.beats(started))
			if bad, ok := errors.AsType[*rowError](err); ok {
				return badCall("%s: %w: nothing was imported", name, bad)
			}
			if err != nil {
				return err
			}
			p.End()
			a.say("%s: %d rows imported.\n", clock.Name, rows.n)
			return nil
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

// rowError is a row that can't be taken, by its number.
type rowError struct {
	line int
	why  string
}

func (e *rowError) Error() string { return fmt.Sprintf("row %d: %s", e.line, e.why) }

// beatRows reads index,time_s,state row by row. Only the times are taken: analysis
// finds index and state again.
type beatRows struct {
	in   *csv.Reader
	time int // column of time_s
	last int64
	n    int64
}

func (r *beatRows) head() error {
	r.in.ReuseRecord = true
	line, err := r.in.Read()
	if errors.Is(err, io.EOF) {
		return errors.New("empty: the first line must name the columns")
	}
	if err != nil {
		return err
	}
	if r.time = slices.Index(line, "time_s"); r.time < 0 {
		return errors.New("no column is named time_s")
	}
	return nil
}

// beats yields the rows as beats, some thousands at a step.
func (r *beatRows) beats(start time.Time) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		chunk := make([]sessions.Beat, 0, 4096)
		for {
			ns, err := r.next()
			if errors.Is(err, io.EOF) {
				yield(chunk, nil)
				return
			}
			if err != nil {
				yield(nil, err)
				return
			}
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

func (r *beatRows) next() (int64, error) {
	line, err := r.in.Read()
	if err != nil {
		if p, ok := errors.AsType[*csv.ParseError](err); ok {
			return 0, &rowError{p.Line, p.Err.Error()}
		}
		return 0, err
	}
	number, _ := r.in.FieldPos(0)
	t, err := strconv.ParseFloat(line[r.time], 64)
	if err != nil || !(t >= 0 && t <= 1e9) {
		return 0, &rowError{number, fmt.Sprintf("time_s %q is no time in seconds since the start", line[r.time])}
	}
	ns := int64(t*importedRate + 0.5)
	if ns < r.last {
		return 0, &rowError{number, fmt.Sprintf("time_s %s comes before the row above", line[r.time])}
	}
	r.last = ns
	r.n++
	return ns, nil
}

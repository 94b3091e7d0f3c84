package live

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"math"
	"os"
	"slices"
	"strconv"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/capture"
	"evenbeat/devices/formats"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// KeptBeats is where a session of timing was kept; a *book.Book is one.
type KeptBeats interface {
	Beats(ctx context.Context, sessionID int64) iter.Seq2[[]sessions.Beat, error]
	Faults(ctx context.Context, sessionID int64) ([]sessions.Fault, error)
}

// OtherReading names the format that a session's lines may be of, if they make no beat
// in the one they were read as; "" for none.
func (b Bench) OtherReading(ses sessions.Session) (as, other string) {
	p, err := b.Profile(ses.Profile)
	switch {
	case err == nil && p.Format == asCounts:
		return p.Format, asIntervals
	case err == nil && hasNumbers(p.Format):
		return p.Format, asCounts
	}
	return "", ""
}

const asCounts, asIntervals, asTimes = "count-lines", "interval-lines", "utc-lines"

// hasNumbers reports whether the lines of a format follow from the counts of its beats.
func hasNumbers(format string) bool {
	return format == asCounts || format == asIntervals || format == asTimes
}

// Reread walks through a session's beats as a format reads them that it was not
// recorded as, and returns the session as it would then have been. It reads the raw
// bytes where they were kept, else the lines that the beats and faults tell. Nothing in
// the book is changed.
func (b Bench) Reread(ctx context.Context, kept KeptBeats, ses sessions.Session, format string) (sessions.Session, iter.Seq2[[]sessions.Beat, error], error) {
	f, err := formats.Named(format)
	if err == nil && f.Instrument != configs.KindBeat {
		err = fmt.Errorf("%s is no format of a beat sensor", format)
	}
	if err != nil {
		return ses, nil, &CallError{err}
	}
	p, err := b.Profile(ses.Profile)
	if err != nil {
		return ses, nil, &CallError{fmt.Errorf("session %d: %w", ses.ID, err)}
	}
	// What the caller said of the counter stays, what came with the profile doesn't. Zero
	// is what an earlier profile of times said.
	if t := &ses.Timing; t.CountBits == p.CountBits || t.CountBits == 0 {
		t.CountBits = f.CountBits
	}
	if t := &ses.Timing; t.CountRate == p.CountRate || t.CountRate == 0 {
		t.CountRate = f.CountRate
	}
	chunks := rawChunks(ctx, kept, rawFile(b.Settings.Book, ses.ID, ""), ses)
	if chunks == nil && !hasNumbers(p.Format) {
		return ses, nil, &CallError{fmt.Errorf("session %d was read as %s, and its bytes are not kept: they are with keep_raw in the settings", ses.ID, p.Format)}
	}
	if chunks == nil {
		chunks = keptLines(ctx, kept, ses, p.Format)
	}
	return ses, beatsOf(chunks, f.New(quantity.NoUnit)), nil
}

// beatsOf decodes chunks into beats. Host times stay those of the chunks.
func beatsOf(chunks iter.Seq2[[]devices.Chunk, error], d devices.Decoder) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		var beats []sessions.Beat
		var said []devices.Said
		broken := false
		for part, err := range chunks {
			said, beats = said[:0], beats[:0]
			for _, c := range part {
				said = d.Decode(said, c)
			}
			for _, s := range said {
				if s.Kind == devices.KindBeat {
					beats = append(beats, sessions.Beat{Count: s.Beat.Count, HostMono: s.At.Mono, HostUTC: s.At.UTC, Edge: s.Beat.Edge, Break: broken})
				}
				broken = s.Kind != devices.KindBeat && (broken || recorder.Breaks(s.Fault))
			}
			if !yield(beats, err) {
				return
			}
		}
	}
}

// keptLines makes the lines again that a session's beats and refused lines came from.
func keptLines(ctx context.Context, kept KeptBeats, ses sessions.Session, format string) iter.Seq2[[]devices.Chunk, error] {
	return func(yield func([]devices.Chunk, error) bool) {
		faults, err := kept.Faults(ctx, ses.ID)
		if err != nil {
			yield(nil, err)
			return
		}
		l := lineMaker{format: format}
		for _, row := range faults {
			l.faults = append(l.faults, recorder.Apart(row)...)
		}
		slices.SortStableFunc(l.faults, func(a, b sessions.Fault) int { return a.At.Compare(b.At) })
		for beats, err := range kept.Beats(ctx, ses.ID) {
			l.chunks = l.chunks[:0]
			for _, b := range beats {
				l.beat(b)
			}
			if !yield(l.chunks, err) || err != nil {
				return
			}
		}
		l.chunks = l.chunks[:0]
		l.refused(math.MaxInt64, l.last)
		yield(l.chunks, nil)
	}
}

// lineMaker makes lines of beats, and of the faults between them.
type lineMaker struct {
	faults []sessions.Fault // those to come
	format string           // that the beats were read as
	last   sessions.Beat
	chunks []devices.Chunk
}

func (l *lineMaker) beat(b sessions.Beat) {
	l.refused(b.HostUTC, b)
	if b.Break {
		before := devices.Stamp{UTC: l.last.HostUTC, Mono: l.last.HostMono}
		l.chunks = append(l.chunks, devices.Chunk{At: before, Fault: devices.FaultReset})
	}
	text := strconv.AppendUint(nil, b.Count, 10)
	switch {
	case l.format == asIntervals: // its decoder summed them up
		text = strconv.AppendUint(nil, b.Count-l.last.Count, 10)
	case l.format == asTimes && b.Count%1e9 == 0: // nanoseconds, of a number without decimals
		text = strconv.AppendUint(nil, b.Count/1e9, 10)
	case l.format == asTimes:
		text = fmt.Appendf(nil, "%d.%09d", b.Count/1e9, b.Count%1e9)
	}
	l.line(devices.Stamp{UTC: b.HostUTC, Mono: b.HostMono}, text)
	l.last = b
}

// refused makes the lines of the faults up to a time. Their monotonic time isn't kept:
// it follows from that of a beat near them.
func (l *lineMaker) refused(until int64, near sessions.Beat) {
	for len(l.faults) > 0 && l.faults[0].At.UnixNano() < until {
		at := l.faults[0].At.UnixNano()
		if text, ok := lines.Unquote(l.faults[0].Text); ok {
			l.line(devices.Stamp{UTC: at, Mono: at - near.HostUTC + near.HostMono}, text)
		}
		l.faults = l.faults[1:]
	}
}

func (l *lineMaker) line(at devices.Stamp, text []byte) {
	l.chunks = append(l.chunks, devices.Chunk{At: at, Bytes: append(text, '\n')})
}

// rawChunks reads a session's capture, with monotonic times that count from its first
// beat as the book's do; nil if there is none.
func rawChunks(ctx context.Context, kept KeptBeats, file string, ses sessions.Session) iter.Seq2[[]devices.Chunk, error] {
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return func(yield func([]devices.Chunk, error) bool) {
		var first sessions.Beat
		for beats, err := range kept.Beats(ctx, ses.ID) {
			if err != nil {
				yield(nil, err)
				return
			}
			first = beats[0]
			break
		}
		in, err := os.Open(file)
		if err != nil {
			yield(nil, err)
			return
		}
		defer func() { _ = in.Close() }() // it is only read
		r := capture.NewReader(in)
		c, err := r.Next()
		shift := c.At.UTC - c.At.Mono - first.HostUTC + first.HostMono
		for ; err == nil; c, err = r.Next() {
			c.At.Mono += shift
			if !yield([]devices.Chunk{c}, nil) {
				return
			}
		}
		if !errors.Is(err, io.EOF) {
			yield(nil, err)
		}
	}
}

package terminal

import (
	"io"
	"iter"
	"time"

	"evenbeat/sessions"
)

// Progress shows on a terminal how far a long job has come. It begins after a second,
// so that short jobs stay quiet, and shows nothing where there is no terminal.
type Progress struct {
	Streams
	now         func() time.Time
	what        string
	done, total int64
	quiet       bool
	shown       bool
	began, last time.Time
}

// Progress begins to show a job. The total is in bytes for Reader and in beats for
// Beats; where it is 0, which means unknown, nothing is shown. Always call End.
func (s Streams) Progress(what string, total int64, now func() time.Time) *Progress {
	return &Progress{Streams: s, now: now, what: what, total: total, quiet: total <= 0 || !Is(s.Err), began: now()}
}

// add counts n more of the total as done.
func (p *Progress) add(n int64) {
	p.done += n
	if p.quiet {
		return
	}
	now := p.now()
	if now.Sub(p.began) < time.Second || now.Sub(p.last) < time.Second/4 {
		return
	}
	p.last, p.shown = now, true
	p.Say("\r\x1b[K%s: %d %%", p.what, min(100, 100*p.done/p.total))
}

// End takes the line away.
func (p *Progress) End() {
	if p.shown {
		p.Say("\r\x1b[K")
	}
}

// Reader passes on what is read from r, and counts the bytes.
func (p *Progress) Reader(r io.Reader) io.Reader { return counted{r, p} }

type counted struct {
	io.Reader
	p *Progress
}

func (c counted) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.p.add(int64(n))
	return n, err
}

// Beats passes beats on and counts them.
func (p *Progress) Beats(all iter.Seq2[[]sessions.Beat, error]) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		for chunk, err := range all {
			p.add(int64(len(chunk)))
			if !yield(chunk, err) {
				return
			}
		}
	}
}

package main

import (
	"io"
	"iter"
	"os"
	"time"

	"evenbeat/sessions"
)

// progress tells on a terminal how far a long job has come: not before a second has
// passed, so that short ones stay quiet, and never where there is no terminal.
type progress struct {
	*app
	what        string
	done, total int64
	quiet       bool
	shown       bool
	began, last time.Time
}

func (a *app) progress(what string, total int64) *progress {
	return &progress{app: a, what: what, total: total, quiet: total <= 0 || !isTerminal(a.err), began: a.now()}
}

// add tells that n more of the total are done.
func (p *progress) add(n int64) {
	p.done += n
	if p.quiet {
		return
	}
	now := p.now()
	if now.Sub(p.began) < time.Second || now.Sub(p.last) < time.Second/4 {
		return
	}
	p.last, p.shown = now, true
	p.say("\r\x1b[K%s: %d %%", p.what, min(100, 100*p.done/p.total))
}

// end takes the line away.
func (p *progress) end() {
	if p.shown {
		p.say("\r\x1b[K")
	}
}

// counted reads on behalf of p.
type counted struct {
	io.Reader
	p *progress
}

func (c counted) Read(b []byte) (int, error) {
	n, err := c.Reader.Read(b)
	c.p.add(int64(n))
	return n, err
}

// sizeOf returns the size of a file that is being read, 0 where it has none.
func sizeOf(r io.Reader) int64 {
	f, ok := r.(*os.File)
	if !ok {
		return 0
	}
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return 0
	}
	return info.Size()
}

// beats passes beats on and counts them.
func (p *progress) beats(all iter.Seq2[[]sessions.Beat, error]) iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		for chunk, err := range all {
			p.add(int64(len(chunk)))
			if !yield(chunk, err) {
				return
			}
		}
	}
}

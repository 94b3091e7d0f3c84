package page

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
	"evenbeat/devices/capture"
	"evenbeat/devices/recognise"
)

// ear listens at a port, until it is stopped or the page ends.
type ear struct {
	name string
	held *run // by which no session takes the port
	stop context.CancelFunc
	gone chan struct{} // closed once the port is free

	mu     sync.Mutex
	said   string // what is recognised, and how sure
	lines  string // to keep in the settings file
	seven  bool   // the eighth bit is a parity
	bytes  []byte // the latest
	total  int
	pieces int // of the capture
	file   string
	kept   *capture.Writer // nil while none is written
	shut   func() error
	over   bool
}

// heardAt is what an ear has heard so far, for the templates.
type heardAt struct {
	Port, Said, Lines string
	Rows              []byteRow
	Total, Pieces     int
	File              string // of the capture, without its folder
	Keeping, Over     bool
}

// byteRow is eight bytes, as they are and as text.
type byteRow struct{ Hex, Text string }

// What of the bytes is shown.
const (
	mostBytes = 96
	rowBytes  = 8
)

// take takes what arrives.
func (e *ear) take(c devices.Chunk) error {
	e.tap(c)
	return nil
}

func (e *ear) tap(c devices.Chunk) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.total += len(c.Bytes)
	e.bytes = append(e.bytes, c.Bytes...)
	if rows := (len(e.bytes) - mostBytes + rowBytes - 1) / rowBytes; rows > 0 { // whole rows, so that none moves
		e.bytes = slices.Delete(e.bytes, 0, min(rows*rowBytes, len(e.bytes)))
	}
	if c.Fault != "" {
		e.said = c.Text
	}
	if e.kept == nil {
		return
	}
	if e.pieces++; errors.Join(e.kept.Write(c), e.kept.Flush()) != nil {
		e.said = "The capture can't be written any further."
		_ = e.close() // which is told already
	}
}

func passed(devices.Chunk) error { return nil }

func (e *ear) tell(words string) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.said = words
}

func (e *ear) warn(err error) { e.tell(err.Error()) }

func (e *ear) step(s live.SearchStep) {
	if words := s.String(); words != "" {
		e.tell(words)
	}
}

// found tells what was recognised.
func (e *ear) found(h *recognise.Heard) {
	e.tell(live.HowSure(h.Port+", "+live.Framing(h.Settings), h.Candidate) + ".")
	e.mu.Lock()
	defer e.mu.Unlock()
	e.lines, e.seven = live.ProfileLines(h), h.DataBits == 7
}

// end closes the capture, and tells why nothing more is heard.
func (e *ear) end(err error) {
	err = errors.Join(err, e.keepNoMore())
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.over = true; err != nil {
		e.said = "No longer heard: " + err.Error()
	}
}

// keep begins a capture of what arrives, in a folder.
func (e *ear) keep(folder string, now time.Time) error {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.kept != nil || e.over {
		return nil
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	e.file = fmt.Sprintf("%s-%s.capture", filepath.Base(e.name), now.UTC().Format("20060102-150405.000"))
	w, shut, err := live.CreateCapture(filepath.Join(folder, e.file), "port "+e.name)
	if err == nil {
		e.kept, e.shut, e.pieces = w, shut, 0
	}
	return err
}

// keepNoMore ends the capture.
func (e *ear) keepNoMore() error {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.close()
}

func (e *ear) close() error {
	if e.kept == nil {
		return nil
	}
	err := errors.Join(e.kept.Flush(), e.shut())
	e.kept, e.shut = nil, nil
	return err
}

// heard is what was heard so far.
func (e *ear) heard() heardAt {
	e.mu.Lock()
	defer e.mu.Unlock()
	h := heardAt{Port: e.name, Said: e.said, Lines: e.lines, Total: e.total, Pieces: e.pieces, File: e.file, Keeping: e.kept != nil, Over: e.over}
	for row := range slices.Chunk(e.bytes, rowBytes) {
		text := make([]rune, len(row))
		for i, b := range row {
			if e.seven {
				b &= 0x7f
			}
			if text[i] = rune(b); b < ' ' || b > '~' {
				text[i] = '·'
			}
		}
		h.Rows = append(h.Rows, byteRow{fmt.Sprintf("% -*X", 3*rowBytes-1, row), string(text)})
	}
	return h
}

// ears are all that listen, the first to begin first.
type ears struct {
	mu  sync.Mutex
	all []*ear
}

// add puts an ear in the place of the one that listened at its port before.
func (l *ears) add(e *ear) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all = append(slices.DeleteFunc(l.all, func(o *ear) bool { return o.name == e.name }), e)
}

func (l *ears) drop(e *ear) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.all = slices.DeleteFunc(l.all, func(o *ear) bool { return o == e })
}

// at returns the ear at a port, nil if there is none.
func (l *ears) at(name string) *ear {
	l.mu.Lock()
	defer l.mu.Unlock()
	if i := slices.IndexFunc(l.all, func(e *ear) bool { return e.name == name }); i >= 0 {
		return l.all[i]
	}
	return nil
}

func (l *ears) heard() (all []heardAt) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, e := range l.all {
		all = append(all, e.heard())
	}
	slices.SortFunc(all, func(a, b heardAt) int { return strings.Compare(a.Port, b.Port) })
	return all
}

package main

import (
	"bufio"
	"context"
	"io"
	"strings"
	"unicode/utf8"

	"evenbeat/devices"
	"evenbeat/sessions/recorder"
)

// keyHelp names the keys of a measuring session.
const keyHelp = "Keys: u undo, s skip, r repeat, f finish. Closing the jaws and sending undoes the last reading."

// commandWords are the commands of a measuring session, as a key or as a word.
var commandWords = map[string]recorder.Command{
	"u": recorder.Undo, "undo": recorder.Undo,
	"s": recorder.Skip, "skip": recorder.Skip,
	"r": recorder.Repeat, "repeat": recorder.Repeat,
	"f": recorder.Finish, "finish": recorder.Finish,
}

// typist turns what is typed into items for the recorder.
type typist struct {
	in   io.Reader
	echo io.Writer // where single keys are echoed; nil when in is read by lines
	now  func() devices.Stamp
}

// run sends what is typed until in ends or ctx does. A read that waits for a key
// can't be broken off; it ends with the program.
func (t typist) run(ctx context.Context, queue chan<- recorder.Item) error {
	if t.echo != nil {
		return t.keys(ctx, queue)
	}
	lines := bufio.NewScanner(t.in)
	for lines.Scan() {
		if !t.line(ctx, queue, lines.Text()) {
			return nil
		}
	}
	return lines.Err()
}

// line sends one line; false when nobody takes it any more.
func (t typist) line(ctx context.Context, queue chan<- recorder.Item, text string) bool {
	text = strings.TrimSpace(text)
	if text == "" {
		return true
	}
	item := recorder.Item{At: t.now()}
	if item.Command = commandWords[strings.ToLower(text)]; item.Command == 0 {
		item.Typed = text
	}
	return recorder.Send(ctx, queue, item)
}

// show echoes a key. A terminal that takes no more has gone away: the next read from
// it tells, so its error here tells nothing.
func (t typist) show(text string) {
	_, _ = io.WriteString(t.echo, text)
}

// keys reads single keys: a command's letter acts at once; anything else is
// gathered up to Enter.
func (t typist) keys(ctx context.Context, queue chan<- recorder.Item) error {
	var line []rune
	r := bufio.NewReader(t.in)
	for {
		c, size, err := r.ReadRune()
		if err != nil {
			return nil // the terminal went away; the instrument goes on
		}
		switch {
		case c == '\r' || c == '\n':
			t.show("\n")
			if !t.line(ctx, queue, string(line)) {
				return nil
			}
			line = line[:0]
		case c == 0x7f || c == '\b':
			if len(line) > 0 {
				line = line[:len(line)-1]
				t.show("\b \b")
			}
		case len(line) == 0 && commandWords[strings.ToLower(string(c))] != 0:
			if !t.line(ctx, queue, string(c)) {
				return nil
			}
		case c >= ' ' && !(c == utf8.RuneError && size == 1) && len(line) < 80:
			line = append(line, c)
			t.show(string(c))
		}
	}
}

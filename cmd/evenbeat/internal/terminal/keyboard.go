package terminal

import (
	"bufio"
	"context"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/sessions/recorder"
)

// KeyHelp names the keys of a measuring session.
const KeyHelp = `Keys: u undo, s skip, r repeat, f finish, h shows the keys. To go to another
dimension, type g and its first letters, as in "g str", and Enter. To take back
reading 7, type "undo 7". Closing the jaws and sending undoes the last reading.`

// goTo begins a line that names a dimension by its first letters.
const goTo = "g "

// takeBack begins a line that names a reading by its number.
const takeBack = "undo "

// helpKeys show the keys.
var helpKeys = []string{"h", "?", "help"}

// commandWords are the commands of a measuring session, as a key or as a word.
var commandWords = map[string]recorder.Command{
	"u": recorder.Undo, "undo": recorder.Undo,
	"s": recorder.Skip, "skip": recorder.Skip,
	"r": recorder.Repeat, "repeat": recorder.Repeat,
	"f": recorder.Finish, "finish": recorder.Finish,
}

// keyboard hands what is typed to a session.
type keyboard struct {
	Streams
	session *live.Measuring
	typed   bool // all readings are typed: the end of the lines ends the session
	echo    bool // single keys are read, and echoed to Err
}

// open has a terminal beside an instrument read by single keys; all else is read by
// lines. Always call restore, which puts the terminal back.
func (k *keyboard) open() (restore func()) {
	f, ok := k.In.(*os.File)
	if !ok || k.typed || !Is(f) {
		return func() {}
	}
	back, err := singleKeys(int(f.Fd()))
	if err != nil {
		return func() {}
	}
	k.echo = true
	return func() {
		if err := back(); err != nil {
			k.Log.Warn().Err(err).Msg("the terminal was not put back: type reset")
		}
	}
}

// run hands on what is typed until there is no more or the session has ended. A read
// that waits for a key can't be broken off; it ends with the program.
func (k *keyboard) run(ctx context.Context) error {
	if k.echo {
		return k.keys(ctx)
	}
	lines := bufio.NewScanner(k.In)
	for lines.Scan() {
		if !k.line(ctx, lines.Text()) {
			return nil
		}
	}
	if k.typed {
		_ = k.session.Close(ctx) // refused where the session has ended
	}
	return lines.Err()
}

// line hands on one line; false when nobody takes it any more.
func (k *keyboard) line(ctx context.Context, text string) bool {
	text = strings.TrimSpace(text)
	if text == "" {
		return true
	}
	low := strings.ToLower(text)
	if c := commandWords[low]; c != 0 {
		return k.session.Do(ctx, c) == nil
	}
	if slices.Contains(helpKeys, low) {
		k.show(KeyHelp + "\n")
		return true
	}
	if letters, ok := strings.CutPrefix(low, goTo); ok {
		return k.session.Jump(ctx, strings.TrimSpace(letters)) == nil
	}
	if number, ok := strings.CutPrefix(low, takeBack); ok {
		if id, err := strconv.ParseInt(strings.TrimSpace(number), 10, 64); err == nil && id > 0 {
			return k.session.TakeBack(ctx, id) == nil
		}
	}
	return k.session.Type(ctx, text) == nil
}

// show echoes a key. A terminal that takes no more has gone away: the next read from
// it tells, so its error here tells nothing.
func (k *keyboard) show(text string) {
	_, _ = io.WriteString(k.Err, text)
}

// isKey tells whether a letter acts at once.
func isKey(letter string) bool {
	return commandWords[letter] != 0 || slices.Contains(helpKeys, letter)
}

// keys reads single keys: a command's letter acts at once; anything else is
// gathered up to Enter.
func (k *keyboard) keys(ctx context.Context) error {
	var line []rune
	r := bufio.NewReader(k.In)
	for {
		c, size, err := r.ReadRune()
		if err != nil {
			return nil // the terminal went away; the instrument goes on
		}
		switch {
		case c == '\r' || c == '\n':
			k.show("\n")
			if !k.line(ctx, string(line)) {
				return nil
			}
			line = line[:0]
		case c == 0x7f || c == '\b':
			if len(line) > 0 {
				line = line[:len(line)-1]
				k.show("\b \b")
			}
		case len(line) == 0 && isKey(strings.ToLower(string(c))):
			if !k.line(ctx, string(c)) {
				return nil
			}
		case c >= ' ' && !(c == utf8.RuneError && size == 1) && len(line) < 80:
			line = append(line, c)
			k.show(string(c))
		}
	}
}

// Package terminal is the face that sessions show to someone at a terminal: keys and
// typed lines go in, what a session tells comes out as text or JSON.
package terminal

import (
	"fmt"
	"io"
	"os"

	"github.com/rs/zerolog"
	"golang.org/x/term"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices"
	"evenbeat/devices/quantity"
	"evenbeat/devices/recognise"
)

// Streams are a user's terminal, or what stands in its place. Findings and
// acknowledgements go to Out, all else to Err.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer
	JSON     bool
	// Line writes a line of JSON, of a clock or of none.
	Line func(clock string, v any) error
	// Plain tells that Err can't move its cursor, even where it is a terminal.
	Plain bool
	Log   zerolog.Logger
	// Notify tells whoever supervises a session of timing how it stands, in the words of
	// sd_notify(3); nil where nobody does.
	Notify func(state string)
}

// Say writes a remark to standard error, with what came from outside made visible: only
// the format may move the cursor. Where that takes no more there is no place
// left to tell it but the log's, which may be another: the work goes on.
func (s Streams) Say(format string, args ...any) {
	for i, a := range args {
		switch a := a.(type) {
		case string:
			args[i] = quantity.Visible(a)
		case error:
			args[i] = quantity.Visible(a.Error())
		}
	}
	if _, err := fmt.Fprintf(s.Err, format, args...); err != nil {
		s.Log.Debug().Err(err).Msg("standard error takes no more")
	}
}

// told counts what was told of a session's warnings and faults.
type told struct {
	Streams
	warnings, faults int
	noises           map[string]int // settings at which a port gave noise, by port
}

// mostNoises is how many settings in vain are told of a port.
const mostNoises = 3

// searching tells how far a session's search has come. A port that sends noise without end
// isn't told of at every setting.
func (t *told) searching(step live.SearchStep) {
	if step.Finding.State == recognise.Noise {
		if t.noises == nil {
			t.noises = map[string]int{}
		}
		t.noises[step.Port]++
		if n := t.noises[step.Port]; n == mostNoises+1 {
			t.Say("  %s: noise at other settings too. All are being tried, without a line for each. Or end this and name the instrument's --profile.\n", step.Port)
		} else if n <= mostNoises {
			t.Searching(step)
		}
		return
	}
	t.Searching(step)
}

func (t *told) warning(text string) {
	t.warnings++
	t.Say("  ! %s\n", text)
}

// fault is the line for a row of faults. On a terminal those of a flood stay one line each.
func (t *told) fault(e live.Event) string {
	t.faults += e.Times
	kind := e.Fault.Kind
	if kind == string(devices.FaultGarbage) {
		kind = "not understood"
	}
	line := "  ! " + kind + ": " + e.Fault.Text
	if e.Times > 1 && Is(t.Err) {
		return t.fit(line)
	}
	return line
}

// catchUp tells what of a state was not told yet, because the output stood still
// while the session went on.
func (t *told) catchUp(s *live.State) {
	for _, w := range s.Warnings[t.warnings:] {
		t.warning(w)
	}
	if missed := int(s.Faults) - t.faults; missed > 0 {
		t.faults += missed
		t.Say("  ! %d %s came while the output stood still: the book has them\n", missed, quantity.Plural(int64(missed), "fault", "faults"))
	}
}

// Columns returns how wide a stream is, if it is a terminal, and render.Width otherwise.
func Columns(stream any) int {
	if f, ok := stream.(*os.File); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
			return w
		}
	}
	return render.Width
}

// Is reports whether a stream is a terminal.
func Is(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

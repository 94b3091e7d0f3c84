//go:build unix

package terminal

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"golang.org/x/sys/unix"

	"evenbeat/analysis/beat"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/pseudo"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/recorder"
)

// screen shows what is written to a terminal whose lines wrap, and wrap anew when it is
// resized. It knows the sequences that the live block uses.
type screen struct {
	lines []string // whole; the cursor is below the last
	wide  int
}

func (s *screen) write(text string) {
	if up, rest, ok := strings.Cut(strings.TrimPrefix(text, "\x1b["), "A"); ok && strings.HasPrefix(text, "\x1b[") {
		n := 0
		_, _ = fmt.Sscan(up, &n)
		for ; n > 0 && len(s.lines) > 0; s.lines = s.lines[:len(s.lines)-1] {
			rows := max(1, (utf8.RuneCountInString(s.lines[len(s.lines)-1])+s.wide-1)/s.wide)
			if n -= rows; n < 0 { // into the middle of a line
				break
			}
		}
		text = rest
	}
	text = strings.TrimPrefix(text, "\r\x1b[J")
	s.lines = append(s.lines, strings.Split(strings.TrimSuffix(text, "\n"), "\n")...)
}

// The block is drawn over itself whatever the terminal's width becomes, leaves what was
// told before, and shows the time and how long nothing was heard.
func TestBlockSurvivesResize(t *testing.T) {
	ours, far, err := pseudo.Terminal()
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = ours.Close() }()
	defer func() { _ = far.Close() }()
	s := &screen{}
	rate := liveRate{told: told{Streams: Streams{Err: far}}, nextMark: firstTrail, clock: "Hall"}
	event := func(e live.Event) {
		rate.event(e)
		buf := make([]byte, 4096)
		n, err := ours.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		s.write(string(buf[:n]))
	}
	noon := time.Date(2026, 3, 14, 12, 0, 0, 0, time.Local)
	var result beat.Result
	result.Rate.Value = quantity.Value{V: 12.5, U: 0.2}
	result.DurationS, result.Next = 3600, []string{strings.Repeat("listen on ", 12)}
	for i, size := range []struct{ columns, rows int }{{100, 24}, {46, 24}, {30, 24}, {140, 24}, {61, 24}, {20, 24}, {90, 24}, {90, 4}} {
		s.wide = size.columns
		if err := unix.IoctlSetWinsize(int(far.Fd()), unix.TIOCSWINSZ, &unix.Winsize{Col: uint16(size.columns), Row: uint16(size.rows)}); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			event(live.Event{Event: recorder.Event{Kind: live.Started}})
			event(live.Event{Event: recorder.Event{Kind: recorder.Faulty, Times: 1, Fault: sessions.Fault{Kind: "garbage", Text: "xyzzy"}}})
		}
		event(live.Event{Event: recorder.Event{Kind: live.Estimated}, Estimate: &live.Estimate{Result: result}})
		event(live.Event{Event: recorder.Event{Kind: live.Ticked}, At: noon.Add(time.Duration(i) * time.Second), Quiet: time.Duration(i) * 5 * time.Second, Silent: i >= 2})
		want := append([]string{"Listening to Hall. Ctrl-C ends and sums up.", "  ! not understood: xyzzy"}, rate.drawn...)
		if size.rows == 4 { // the rest has scrolled off
			want = want[len(want)-3:]
			s.lines = s.lines[len(s.lines)-3:]
		}
		if !slices.Equal(s.lines, want) || len(rate.drawn) != min(6, size.rows-1) {
			t.Errorf("%d columns: the screen shows\n%s\nwant\n%s", size.columns, strings.Join(s.lines, "\n"), strings.Join(want, "\n"))
		}
		heard := fmt.Sprintf("  12:00:%02d  nothing heard for %ds", i, i*5)
		if i < 2 {
			heard = fmt.Sprintf("  12:00:%02d  listening", i)
		}
		if got := rate.drawn[0]; !strings.HasPrefix(got, heard[:min(len(heard), size.columns-2)]) {
			t.Errorf("the block begins with %q, want %q", got, heard)
		}
	}
}

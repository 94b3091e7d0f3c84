package terminal

import (
	"fmt"
	"math"
	"os"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/term"

	"evenbeat/analysis/beat"
	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
)

// liveRate shows, on a terminal, how the rate becomes sure: in words, and as one
// interval that closes in on a line. Each estimate is drawn in the place of the last.
type liveRate struct {
	told
	clock    string
	block    []string // what the last estimate says
	drawn    []string // lines that stand and are to be drawn over
	at       time.Time
	quiet    time.Duration // for how long nothing was heard
	silent   bool          // that is too long
	said     bool          // it was told in a line of its own
	trail    []string      // the rate as it was after one, two, four … minutes
	nextMark float64       // s, when the trail gets its next
	centre   float64       // of the scale, s/day
	reach    float64       // from the centre to either end, s/day; 0 before the first
}

// The drawing: characters of the line, the share of it below which the interval
// makes the scale close in, rates of the trail, and seconds before its first.
const (
	lineChars  = 49
	narrowest  = 1.0 / 12
	trailMost  = 5
	firstTrail = 60.0
)

// show draws an estimate.
func (s *liveRate) show(e live.Estimate) {
	if s.block = []string{"  too few beats yet"}; e.Err == nil {
		s.block = s.picture(e.Result)
	}
	s.draw()
}

// tick shows what time it is and whether the sensor is silent. Where nothing can be drawn
// over, a silence that is kept in the book too is told once.
func (s *liveRate) tick(e live.Event) {
	s.at, s.quiet, s.silent = e.At, e.Quiet, e.Silent
	switch long := s.quiet >= live.SilentAfter; {
	case s.EstimateEvery() > 0:
		s.draw()
	case long != s.said:
		if s.said = long; long {
			s.Say("  ! %s\n", s.heard())
		}
	}
}

// heard says whether the sensor speaks.
func (s *liveRate) heard() string {
	if !s.silent {
		return "listening"
	}
	return fmt.Sprintf("nothing heard for %s: is the clock going? Is the sensor in place?", s.quiet.Round(time.Second))
}

func (s *liveRate) picture(f beat.Result) []string {
	q := f.Rate.Value
	heard := time.Duration(f.DurationS * float64(time.Second)).Round(time.Second)
	if f.DurationS >= s.nextMark {
		s.trail = append(s.trail, fmt.Sprintf("%s %s", heard.Round(time.Minute), q.Signed("")))
		s.trail = s.trail[max(0, len(s.trail)-trailMost):]
		s.nextMark *= 2
	}
	lines := []string{
		fmt.Sprintf("  after %s the clock %s.", heard, q.GainText("gains", "loses")),
		"  " + s.interval(f.Rate),
		fmt.Sprintf("  beat error %s; %s", beat.InMs(f.BeatError, quantity.Value.Text), f.Counts()),
	}
	if len(s.trail) > 0 {
		lines = append(lines, "  so far: "+strings.Join(s.trail, " → "))
	}
	if len(f.Next) > 0 {
		lines = append(lines, "  "+enough(q.Half95())+f.Next[0])
	}
	return lines
}

// enough says which round goal the interval has reached.
func enough(half float64) string {
	for _, goal := range []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5} {
		if half <= goal {
			return fmt.Sprintf("±%g s/day reached; ", goal)
		}
	}
	return ""
}

// interval draws the interval on a line that keeps its scale until the interval is
// narrow on it, so that the eye sees it close in.
func (s *liveRate) interval(r beat.Rate) string {
	half := r.Half95()
	if s.reach == 0 || half < s.reach*narrowest || math.Abs(r.V-s.centre)+half > s.reach*1.05 {
		s.centre, s.reach = r.V, half*1.6
	}
	if !(s.reach > 0) {
		return ""
	}
	place := func(x float64) int {
		at := (x - s.centre + s.reach) / (2 * s.reach) * (lineChars - 1)
		return min(max(0, int(math.Round(at))), lineChars-1)
	}
	line := []rune(strings.Repeat(" ", lineChars))
	for i := place(r.Low95()); i <= place(r.High95()); i++ {
		line[i] = '━'
	}
	line[place(r.V)] = '◆'
	return fmt.Sprintf("%+.4g │%s│ %+.4g", s.centre-s.reach, string(line), s.centre+s.reach)
}

// draw puts the time and the last estimate in the place of what was drawn last. That
// takes more rows than it has lines if the terminal was made narrower since.
func (s *liveRate) draw() {
	columns, rows := s.size()
	up := 0
	for _, l := range s.drawn {
		up += max(1, (utf8.RuneCountInString(l)+columns-1)/columns)
	}
	back := ""
	if up = min(up, rows-1); up > 0 {
		back = fmt.Sprintf("\x1b[%dA", up)
	}
	var b strings.Builder
	lines := s.block
	if !s.at.IsZero() {
		lines = append([]string{fmt.Sprintf("  %s  %s", s.at.Local().Format("15:04:05"), s.heard())}, lines...)
	}
	s.drawn = s.drawn[:0]
	for _, l := range lines[:min(len(lines), rows-1)] {
		l = s.fit(l)
		s.drawn = append(s.drawn, l)
		b.WriteString(l + "\n")
	}
	s.Say(back+"\r\x1b[J%s", b.String())
}

// fit cuts a line to what the terminal shows of it.
func (s Streams) fit(line string) string {
	width := s.width()
	if r := []rune(line); len(r) > width {
		return string(r[:width-1]) + "…"
	}
	return line
}

// width is how many characters of a line the terminal shows. A longer line would wrap.
func (s Streams) width() int {
	columns, _ := s.size()
	return min(columns-1, 2*render.Width)
}

// size is how many columns and rows the terminal has.
func (s Streams) size() (columns, rows int) {
	if f, ok := s.Err.(*os.File); ok {
		if w, h, err := term.GetSize(int(f.Fd())); err == nil && w > 10 && h > 1 {
			return w, h
		}
	}
	return render.Width - 4, math.MaxInt
}

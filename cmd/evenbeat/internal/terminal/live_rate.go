package terminal

import (
	"fmt"
	"math"
	"os"
	"strings"
	"time"

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
	drawn    int      // lines that stand and are to be drawn over
	trail    []string // the rate as it was after one, two, four … minutes
	nextMark float64  // s, when the trail gets its next
	centre   float64  // of the scale, s/day
	reach    float64  // from the centre to either end, s/day; 0 before the first
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
	if e.Err != nil {
		s.draw([]string{"  too few beats yet"})
		return
	}
	s.draw(s.picture(e.Result))
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

// draw puts lines in the place of the last ones.
func (s *liveRate) draw(lines []string) {
	var b strings.Builder
	up := ""
	if s.drawn > 0 {
		up = fmt.Sprintf("\x1b[%dA", s.drawn)
	}
	for _, l := range lines {
		b.WriteString(s.fit(l) + "\n")
	}
	s.drawn = len(lines)
	s.Say(up+"\r\x1b[J%s", b.String())
}

// fit cuts a line to what the terminal shows of it.
func (s Streams) fit(line string) string {
	width := s.width()
	if r := []rune(line); len(r) > width {
		return string(r[:width-1]) + "…"
	}
	return line
}

// width is how many characters of a line the terminal shows. A longer line would wrap,
// and the next drawing would not cover it.
func (s Streams) width() int {
	if f, ok := s.Err.(*os.File); ok {
		if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 10 {
			return min(w-1, 2*render.Width)
		}
	}
	return render.Width - 5
}

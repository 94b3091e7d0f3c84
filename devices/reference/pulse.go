package reference

import (
	"math/bits"

	"evenbeat/devices"
)

// Nanoseconds, and numbers of edges.
const (
	second = int64(1e9)
	// slack is how far an edge may be from a whole number of seconds after the one before
	// it. A busy host stamps an edge some milliseconds late.
	slack = int64(5e6)
	// learnt edges in a row, each a second after the last of its kind, make a pulse. A
	// line that changes at random looks so at most once in 10⁸ edges.
	learnt = 4
	// hold is how long pulses may be missing. By then a host's clock that is 200 ppm off,
	// worse than any crystal, has used 2 ms of the slack.
	hold = 10 * second
	// alone is how long no other line may have changed before a pulse is learnt.
	alone = 2 * second
)

// pulse finds the edge at which a second begins, from the changes of control lines. One
// edge of a receiver's pulse is the second's, of either polarity, on any line. A pulse
// is taken to be shorter than half a second (common practice, no source): the second's
// edge is the one that begins the shorter state. A longer pulse can't be told from its
// inverse. No edge is the second's until the edges of some seconds have shown which it
// is, nor if the two states are equal within the slack, if several lines change, or if
// another edge comes between.
//
// The zero value is ready.
type pulse struct {
	lines [4]line // of devices.Pins' lowest bit first

	known bool // which edge is the second's:
	line  int  // of this line
	on    int  // when it goes on (1) or off (0)

	now, before mark // the last two seconds' edges
}

// line is what is known of a control line.
type line struct {
	at   [2]devices.Stamp // when it last went off, and on
	seen [2]bool
	good int // edges to the last, each a second after the last of its kind
}

// mark is a second's edge. It is in doubt if another edge of its kind came soon after.
type mark struct {
	at    devices.Stamp
	there bool
	doubt bool
}

// edge takes a change of control lines.
func (p *pulse) edge(c devices.Chunk) {
	if bits.OnesCount8(uint8(c.Changed)) != 1 {
		*p = pulse{} // a plug, and no pulse
		return
	}
	i, on := bits.TrailingZeros8(uint8(c.Changed)), 0
	if i >= len(p.lines) {
		return
	}
	if c.Pins&c.Changed != 0 {
		on = 1
	}
	if p.known && c.At.Mono-p.now.at.Mono > hold {
		p.known = false
	}
	if p.known && i == p.line && on == p.on {
		p.mark(c.At)
	}
	p.lines[i].take(on, c.At)
	if !p.known {
		p.learn(i, on)
	}
}

// mark takes an edge of the second's kind. One that doesn't come whole seconds after the
// last isn't a second's edge, and puts the last in doubt.
func (p *pulse) mark(at devices.Stamp) {
	if n, off := seconds(at.Mono - p.now.at.Mono); n < 1 || off > slack {
		p.now.doubt = true
		return
	}
	p.before, p.now = p.now, mark{at: at, there: true}
}

// seconds returns a span in seconds, rounded to the nearest, and how many nanoseconds
// it is off that.
func seconds(span int64) (n, off int64) {
	n = (span + second/2) / second
	return n, max(span-n*second, n*second-span)
}

// take notes an edge.
func (l *line) take(on int, at devices.Stamp) {
	n, off := seconds(at.Mono - l.at[on].Mono)
	inTurn := l.seen[0] && l.seen[1] && l.at[1-on].Mono >= l.at[on].Mono
	if inTurn && n == 1 && off <= slack {
		l.good++
	} else {
		l.good = 0
	}
	l.at[on], l.seen[on] = at, true
}

// learn looks whether the edges of a line, the last of which has just come, make a
// pulse.
func (p *pulse) learn(i, on int) {
	l := &p.lines[i]
	if l.good < learnt || p.others(i, l.at[on].Mono) {
		return
	}
	// The state that has just ended began with the other edge. The state before it was
	// the rest of the second.
	ended := l.at[on].Mono - l.at[1-on].Mono
	switch rest := second - ended; {
	case ended < rest-2*slack:
		on = 1 - on
	case rest < ended-2*slack:
	default:
		return
	}
	*p = pulse{lines: p.lines, known: true, line: i, on: on, now: mark{at: l.at[on], there: true}}
}

// others reports whether another line than i has changed lately.
func (p *pulse) others(i int, mono int64) bool {
	for j, l := range p.lines {
		for on, seen := range l.seen {
			if j != i && seen && mono-l.at[on].Mono < alone {
				return true
			}
		}
	}
	return false
}

// of returns the edge of the second that a sentence names, whose first byte came at
// mono: the edge within the second before it. It returns false if the next edge is
// within the slack, for the sentence could belong to either.
func (p *pulse) of(mono int64) (devices.Stamp, bool) {
	for _, m := range []mark{p.now, p.before} {
		if since := mono - m.at.Mono; m.there && since >= 0 {
			return m.at, since < second-slack && !m.doubt
		}
	}
	return devices.Stamp{}, false
}

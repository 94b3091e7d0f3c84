package reference

import (
	"math/bits"

	"evenbeat/devices"
)

// Nanoseconds, and numbers of edges.
const (
	second = int64(1e9)
	// slack is by how much an edge may miss a whole number of seconds after the one
	// before it. A host that is busy tells an edge some milliseconds late.
	slack = int64(5e6)
	// learnt edges in a row, each a second after the last of its kind, make a pulse: a
	// line that changes at random looks so once in 10⁸ edges at the most.
	learnt = 4
	// hold is for how long pulses may be missing. A host's clock that is 200 ppm off,
	// worse than any crystal, has then lost 2 ms of the slack.
	hold = 10 * second
	// alone is for how long no other line may have changed before a pulse is learnt.
	alone = 2 * second
)

// pulse finds the edge at which a second begins, from the changes of control lines.
// Of the pulse that a receiver gives each second one edge is the second's, of either
// polarity, on any line. A pulse is taken to be shorter than half a second (common
// practice, no source), so that it is the edge that begins the shorter state; a
// pulse that is longer can't be known from its inverse. Until some seconds' edges
// have shown that, no edge is the second's, and none is where the two states are
// alike to the slack, where several lines change, or where an edge comes between.
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

// mark is a second's edge. In doubt, another edge of its kind came soon after.
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

// mark takes an edge of the kind that is the second's. One that doesn't come whole
// seconds after the last is none, and leaves in doubt whether that was.
func (p *pulse) mark(at devices.Stamp) {
	if n, off := seconds(at.Mono - p.now.at.Mono); n < 1 || off > slack {
		p.now.doubt = true
		return
	}
	p.before, p.now = p.now, mark{at: at, there: true}
}

// seconds returns how many seconds a span is to the nearest, and by how many
// nanoseconds it misses that.
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

// learn looks whether the edges of a line, the last of which was told just now, make
// a pulse.
func (p *pulse) learn(i, on int) {
	l := &p.lines[i]
	if l.good < learnt || p.others(i, l.at[on].Mono) {
		return
	}
	// The state that just ended began with the other edge; the one before was the
	// rest of the second.
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

// of returns the edge of the second that a sentence tells whose first byte came at
// mono: the one within the second before it. None is told where the next edge is as
// near as the stamps are good, for it could be either's.
func (p *pulse) of(mono int64) (devices.Stamp, bool) {
	for _, m := range []mark{p.now, p.before} {
		if since := mono - m.at.Mono; m.there && since >= 0 {
			return m.at, since < second-slack && !m.doubt
		}
	}
	return devices.Stamp{}, false
}

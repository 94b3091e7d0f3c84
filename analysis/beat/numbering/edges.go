package numbering

import (
	"slices"

	"evenbeat/analysis/beat/robust"
)

// edgeFilter settles which events of a sensor with several edges or channels are the
// beats. A light gate that tells when it is blocked and when it is clear sends two
// events a beat, close together: the first of the two is the beat. A sensor that
// names the side of the swing sends one a beat, and all are beats.
type edgeFilter struct {
	nominal  float64 // ticks; 0 = not known
	decided  bool
	one      bool // only events of edge are beats
	edge     int16
	held     []edged
	blocking Blocking
}

type edged struct {
	t    int64
	edge int16
}

// use reports whether an event may be a beat.
func (e *edgeFilter) use(t int64, edge int16) bool {
	if !e.one {
		return true
	}
	e.blocking.add(t, edge == e.edge)
	return edge == e.edge
}

// add holds the first events back until there are enough to decide by.
func (e *edgeFilter) add(t int64, edge int16, emit func(int64)) {
	e.held = append(e.held, edged{t, edge})
	if len(e.held) == firstEvents {
		e.settle(emit)
	}
}

// settle decides by the events held back, and lets them go.
func (e *edgeFilter) settle(emit func(int64)) {
	if !e.decided {
		e.decide()
	}
	for _, h := range e.held {
		if e.use(h.t, h.edge) {
			emit(h.t)
		}
	}
	e.held = nil
}

func (e *edgeFilter) decide() {
	e.decided = len(e.held) > 0
	if len(e.held) < 4 {
		return
	}
	fromFirst, fromOther, same := e.gaps()
	if len(fromFirst)+len(fromOther) < len(e.held)/2 {
		return
	}
	e.edge = e.held[0].edge
	near, far := robust.Median(fromFirst), robust.Median(fromOther)
	if near > far {
		near, far = far, near
		e.edge = e.other()
	}
	e.one = far > 2*near
	if whole := robust.Median(same); e.nominal > 0 && whole > 0 {
		// Where the interval is known, it tells: the events of one edge alone come
		// once a beat, or once in two.
		e.one = whole < 1.5*e.nominal
	}
}

// gaps returns the times from an event to the next one of another edge, for the edge of
// the first event and for others, and the times between events of that first edge.
func (e *edgeFilter) gaps() (fromFirst, fromOther, same []float64) {
	first, last := e.held[0].edge, int64(-1)
	for i, h := range e.held {
		if h.edge == first {
			if last >= 0 {
				same = append(same, float64(h.t-last))
			}
			last = h.t
		}
		if i == 0 || e.held[i-1].edge == h.edge {
			continue
		}
		d := float64(h.t - e.held[i-1].t)
		if e.held[i-1].edge == first {
			fromFirst = append(fromFirst, d)
		} else {
			fromOther = append(fromOther, d)
		}
	}
	return fromFirst, fromOther, same
}

// other returns the first edge held that isn't that of the first event.
func (e *edgeFilter) other() int16 {
	i := slices.IndexFunc(e.held, func(h edged) bool { return h.edge != e.held[0].edge })
	return e.held[max(0, i)].edge
}

package beat

// edges settles which events of a sensor with several edges or channels are the
// beats. A gate that tells when it is blocked and when it is clear sends two
// events a beat, close together: the first of the two is the beat. A sensor that
// names the side of the swing sends one a beat, and all are beats.
type edges struct {
	nominal float64 // ticks; 0 = not known
	decided bool
	one     bool // only events of edge are beats
	edge    int16
	held    []edged
	others  int64 // events left out
	passes  passes
}

type edged struct {
	t    int64
	edge int16
}

// use reports whether an event may be a beat.
func (e *edges) use(t int64, edge int16) bool {
	if !e.one {
		return true
	}
	e.passes.edge(t, edge == e.edge)
	if edge != e.edge {
		e.others++
		return false
	}
	return true
}

// add holds the first events back until they tell.
func (e *edges) add(t int64, edge int16, emit func(int64)) {
	e.held = append(e.held, edged{t, edge})
	if len(e.held) == firstEvents {
		e.settle(emit)
	}
}

// settle decides by what is held and lets it go.
func (e *edges) settle(emit func(int64)) {
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

func (e *edges) decide() {
	e.decided = true
	var after [2][]float64 // times to the next event of another edge, from the first edge and to it
	var same []float64     // times between events of the first edge
	if len(e.held) < 4 {
		e.decided = len(e.held) > 0
		return
	}
	first := e.held[0].edge
	last := int64(-1)
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
			after[0] = append(after[0], d)
		} else {
			after[1] = append(after[1], d)
		}
	}
	if len(after[0])+len(after[1]) < len(e.held)/2 {
		return
	}
	near, far := median(after[0]), median(after[1])
	e.edge = first
	if near > far {
		near, far = far, near
		for _, h := range e.held {
			if h.edge != first {
				e.edge = h.edge
				break
			}
		}
	}
	e.one = far > 2*near
	if whole := median(same); e.nominal > 0 && whole > 0 {
		// Where the interval is known, it tells: the events of one edge alone come
		// once a beat, or once in two.
		e.one = whole < 1.5*e.nominal
	}
}

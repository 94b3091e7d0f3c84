package timebase

import "evenbeat/analysis/beat/robust"

// halve joins windows two by two.
func halve(ws []window) []window {
	n := (len(ws) + 1) / 2
	for i := range n {
		w := ws[2*i]
		if 2*i+1 < len(ws) {
			w = join(w, ws[2*i+1])
		}
		ws[i] = w
	}
	return ws[:n]
}

// joinSparse joins a window with less than two thirds of the usual number of events to
// its neighbour: the fewer events, the later the quickest of them.
func joinSparse(ws []window) []window {
	total := int64(0)
	for _, w := range ws {
		total += w.n
	}
	least := total * 2 / (3 * int64(max(1, len(ws))))
	out := ws[:0]
	for _, w := range ws {
		if n := len(out); n > 0 && (w.n < least || out[n-1].n < least) {
			out[n-1] = join(out[n-1], w)
			continue
		}
		out = append(out, w)
	}
	return out
}

func join(a, b window) window {
	if a.n == 0 || (b.n > 0 && b.d < a.d) {
		a.t, a.d = b.t, b.d
	}
	if a.n == 0 || b.n > 0 && b.u > a.u {
		a.tu, a.u = b.tu, b.u
	}
	a.n += b.n
	return a
}

// usualSlope returns the median slope between windows an eighth of the run apart, which
// neither late windows nor a change of level turn.
func usualSlope(ws []window) float64 {
	lag := max(1, len(ws)/8)
	var slopes []float64
	for i := lag; i < len(ws); i++ {
		if a, b := ws[i-lag], ws[i]; a.n > 0 && b.n > 0 && b.t > a.t {
			slopes = append(slopes, (b.d-a.d)/(b.t-a.t))
		}
	}
	return robust.Median(slopes)
}

func few(ws []window) bool {
	n := int64(0)
	for _, w := range ws {
		n += w.n
	}
	return n < leastInWindow*int64(len(ws))
}

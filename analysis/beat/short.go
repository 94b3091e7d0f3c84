package beat

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

const (
	// mostTurnMeans are kept; of more, neighbours are joined.
	mostTurnMeans = 480
	// mostShort windows are told.
	mostShort = 60
	// leastShort means make the line of a window, and leave two over for its scatter.
	leastShort = 4
	// wandering is the chance of telling a clock that goes evenly that it wanders.
	wandering = 1e-4
	// flickering is by how much flicker of phase makes windows' variance greater
	// than the scatter within them says: 1.7, by simulation of four means a window.
	flickering = 2
)

// turnMeans are the mean phases of whole turns of the escape wheel, or of joined
// neighbours: with whole turns neither the teeth nor tick and tock get in.
type turnMeans struct {
	joined int64 // turns to a mean
	seg    int   // segments begun
	at     float64
	means  []turnMean
	filled int64 // turns in the last mean
}

type turnMean struct {
	seg  int
	at   float64 // seconds from the run's first event to the segment's origin
	n    float64 // turns
	k, x float64 // sums of the turns' first beats and of their phases
}

// begin begins a segment, at seconds after the run's first event.
func (t *turnMeans) begin(at float64) {
	t.seg++
	t.at = at
	t.filled = t.joined
}

// add takes the mean phase of the turn that began with beat k.
func (t *turnMeans) add(k int64, x float64) {
	if t.joined == 0 {
		t.joined, t.filled = 1, 1
	}
	if t.filled >= t.joined {
		if len(t.means) >= mostTurnMeans {
			t.join()
		}
		t.means = append(t.means, turnMean{seg: t.seg, at: t.at})
		t.filled = 0
	}
	m := &t.means[len(t.means)-1]
	m.n++
	m.k += float64(k)
	m.x += x
	t.filled++
}

// join makes one mean of two neighbours of a segment.
func (t *turnMeans) join() {
	out := t.means[:0]
	for i := 0; i < len(t.means); i++ {
		m := t.means[i]
		if i+1 < len(t.means) && t.means[i+1].seg == m.seg {
			o := t.means[i+1]
			m.n, m.k, m.x = m.n+o.n, m.k+o.k, m.x+o.x
			i++
		}
		out = append(out, m)
	}
	t.means = out
	t.joined *= 2
}

// shortWindow is the line through the turns of one window.
type shortWindow struct {
	turns  float64
	at     float64 // seconds from the run's first event to its middle, by the even clock
	slope  float64 // seconds a beat, against the even clock
	kk     float64 // Σ(k−k̄)²
	misfit float64 // Σ of squared distances from the line
	free   float64 // degrees of freedom of misfit
}

// means of a window.
func (t *turnMeans) window() int {
	return max(leastShort, (len(t.means)+mostShort-1)/mostShort)
}

// windows draws a line through each window of means that lie in one segment.
func (t *turnMeans) windows(ref float64) []shortWindow {
	by := t.window()
	var out []shortWindow
	for i := 0; i+by <= len(t.means); {
		if t.means[i].seg != t.means[i+by-1].seg {
			i++
			continue
		}
		if w, ok := windowOf(t.means[i:i+by], ref); ok {
			out = append(out, w)
		}
		i += by
	}
	return out[:min(len(out), mostShort)]
}

func windowOf(ms []turnMean, ref float64) (w shortWindow, ok bool) {
	var n, k, x float64
	for _, m := range ms {
		n, k, x = n+1, k+m.k/m.n, x+m.x/m.n
		w.turns += m.n
	}
	k, x = k/n, x/n
	var kx float64
	for _, m := range ms {
		d := m.k/m.n - k
		w.kk += d * d
		kx += d * (m.x/m.n - x)
	}
	if !(w.kk > 0) {
		return w, false
	}
	w.slope = kx / w.kk
	for _, m := range ms {
		e := m.x/m.n - x - w.slope*(m.k/m.n-k)
		w.misfit += e * e
	}
	w.free = n - 2
	w.at = ms[0].at + k*ref
	return w, true
}

// shortTerm returns the rate over windows of whole turns. nominal is the interval
// at which the clock would keep time, truth the true seconds in one of the count.
// The uncertainty is that of the scatter of the turns' means about the windows'
// lines, pooled over all windows, without the time base's: that is common to all.
// wanders tells that the windows are less like each other than this scatter and
// flicker, which makes the windows' variance up to twice what the scatter does,
// can explain.
func (s *sums) shortTerm(nominal, truth float64) (out []Short, wanders bool) {
	ws := s.fold.turns.windows(s.ref)
	var misfit, free float64
	for _, w := range ws {
		misfit, free = misfit+w.misfit, free+w.free
	}
	if !(free >= 2) {
		return nil, false
	}
	scatter := misfit / free
	var sum, weights float64
	for _, w := range ws {
		t := (s.ref + w.slope) * truth
		v := quantity.Value{V: daySeconds * (nominal/t - 1), U: daySeconds * nominal / (t * t) * math.Sqrt(scatter/w.kk) * truth}
		turn := float64(len(s.fold.turn))
		out = append(out, Short{TimeS: (w.at + turn/2*s.ref) * truth, SpanS: w.turns * turn * t, Rate: v})
		sum, weights = sum+w.kk*w.slope, weights+w.kk
	}
	if len(ws) < 4 || !(scatter > 0) {
		return out, false
	}
	between := 0.0
	for _, w := range ws {
		d := w.slope - sum/weights
		between += w.kk * d * d
	}
	d1 := float64(len(ws) - 1)
	ratio := between / d1 / scatter
	return out, ratio > flickering && distuv.F{D1: d1, D2: free}.Survival(ratio/flickering) < wandering
}

// sayShort tells of a rate that wanders.
func sayShort(r *Result, t told) {
	if !t.wanders || len(r.ShortTerm) < 4 {
		return
	}
	low, high := r.ShortTerm[0], r.ShortTerm[0]
	for _, s := range r.ShortTerm {
		if s.Rate.V < low.Rate.V {
			low = s
		}
		if s.Rate.V > high.Rate.V {
			high = s
		}
	}
	length := r.ShortTerm[0].SpanS
	text := fmt.Sprintf("Taken by windows of %s the rate lay between %s and %s: it wanders by more than the scatter of the beats.",
		quantity.SpanText(length), low.Rate.Signed("s/day"), high.Rate.Signed("s/day"))
	for _, w := range r.Wheels {
		if w.Significant && w.PeriodS > length/4 {
			text += " The turns of the wheel named above are part of that."
			break
		}
	}
	r.Reasons = append(r.Reasons, text)
}

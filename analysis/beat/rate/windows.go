package rate

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"evenbeat/devices/quantity"
)

const (
	// mostMeans of turns are kept; of more, neighbours are joined.
	mostMeans = 480
	// mostWindows are returned.
	mostWindows = 60
	// leastMeans of a window determine its line and leave two degrees of freedom.
	leastMeans = 4
	// wandering is the chance that a steady clock is said to wander.
	wandering = 1e-4
	// flickering is the factor by which flicker of phase raises the variance between
	// windows above the scatter within them: 1.7 in a simulation of four means a window.
	flickering = 2
)

// Windows finds the rate over short windows of the run, from the mean time errors of
// whole turns of the escape wheel, in which uneven teeth and the tick–tock offset
// average out. The zero value is ready.
type Windows struct {
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
	k, x float64 // sums of the turns' first beats and of their mean time errors
}

// Begin begins a segment, at seconds after the run's first event.
func (t *Windows) Begin(at float64) {
	t.seg++
	t.at = at
	t.filled = t.joined
}

// Add takes the mean time error x of the turn that began with beat k.
func (t *Windows) Add(k int64, x float64) {
	if t.joined == 0 {
		t.joined, t.filled = 1, 1
	}
	if t.filled >= t.joined {
		if len(t.means) >= mostMeans {
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
func (t *Windows) join() {
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

// window is the line through the turns of one window.
type window struct {
	turns  float64
	at     float64 // seconds from the run's first event to its middle, by the even clock
	slope  float64 // seconds a beat, against the even clock
	kk     float64 // Σ(k−k̄)²
	misfit float64 // Σ of squared distances from the line
	free   float64 // degrees of freedom of misfit
}

// windows fits a line to each window of means within one segment. ref is the even clock's
// interval, seconds.
func (t *Windows) windows(ref float64) []window {
	by := max(leastMeans, (len(t.means)+mostWindows-1)/mostWindows) // means a window
	var out []window
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
	return out[:min(len(out), mostWindows)]
}

func windowOf(ms []turnMean, ref float64) (w window, ok bool) {
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

// Window is the rate over a few turns of the escape wheel. Its uncertainty is without
// the time base's part, which all share.
type Window struct {
	TimeS float64        `json:"t_s"`            // of the middle, since the first beat, true time
	SpanS float64        `json:"span_s"`         // of the turns in it
	Rate  quantity.Value `json:"rate_s_per_day"` // plus = the clock gains
}

// Rates returns the rate over windows of whole turns. turn is the beats of a turn, ref
// the even clock's interval, nominal that at which the clock would keep time, both in
// seconds, and truth the true seconds in one of the count.
//
// The uncertainty is that of the scatter of the turns' means about the windows'
// lines, pooled over all windows. wanders says that the windows differ by more than this
// scatter and flicker explain.
func (t *Windows) Rates(turn int, ref, nominal, truth float64) (out []Window, wanders bool) {
	ws := t.windows(ref)
	var misfit, free float64
	for _, w := range ws {
		misfit, free = misfit+w.misfit, free+w.free
	}
	if !(free >= 2) {
		return nil, false
	}
	scatter, beats := misfit/free, float64(turn)
	var sum, weights float64
	for _, w := range ws {
		interval := (ref + w.slope) * truth
		out = append(out, Window{TimeS: (w.at + beats/2*ref) * truth, SpanS: w.turns * beats * interval,
			Rate: PerDay(nominal, interval, math.Sqrt(scatter/w.kk), truth)})
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

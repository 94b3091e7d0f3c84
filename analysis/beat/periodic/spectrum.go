package periodic

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"evenbeat/analysis/beat/phase"
	"evenbeat/analysis/beat/robust"
	"evenbeat/devices/quantity"
)

const (
	// mostBeats are analysed: nine hours of a half-second beat, in which even a slow wheel
	// turns often enough.
	mostBeats = 1 << 15
	// fewestBeats are needed for a spectrum.
	fewestBeats = 256
	// mostPeriods are returned.
	mostPeriods = 5
	// leastPeriod is in beats. A pinion's leaves make the shortest periods, and at two
	// beats tick and tock alternate.
	leastPeriod = 3.0
	// believe is the chance of finding a period in beats that have none.
	believe = 1e-5
	// leastAmplitude, in seconds: of beats without any scatter the last digits of the sums
	// repeat, far below what a clock or a sensor can show.
	leastAmplitude = 1e-9
	// leastCycles of a period in the run: a wandering rate makes fewer.
	leastCycles = 10
	// redBins: the first bins have too few below them for a median to show how steeply
	// the power of a wandering rate rises. There no bin below may come near the peak.
	redBins = 48
)

// Spectrum keeps the first beats of the run, for a clock whose train isn't known: those
// of the first segment that is long enough. The zero value is ready.
type Spectrum struct {
	errors []float64 // NaN = missed
	full   bool
	even   bool // the first is of even number
}

// Add takes the next beats.
func (p *Spectrum) Add(s phase.Series) {
	if p.full {
		return
	}
	if s.Fresh {
		if len(p.errors) >= mostBeats/4 {
			p.full = true
			return
		}
		p.errors, p.even = p.errors[:0], s.First&1 == 0
	}
	p.errors = append(p.errors, s.Errors[:min(len(s.Errors), mostBeats-len(p.errors))]...)
	p.full = len(p.errors) == mostBeats
}

// level returns the time errors without their line and without the tick–tock offset;
// missed beats are interpolated. It reports false for too few beats, or where more than
// three in ten were missed.
func (p *Spectrum) level(half float64) ([]float64, bool) {
	n := len(p.errors)
	if n < fewestBeats {
		return nil, false
	}
	out := make([]float64, n)
	last, missed := -1, 0
	for i, v := range p.errors {
		if v != v {
			missed++
			continue
		}
		if (i&1 == 0) == p.even {
			v -= half
		} else {
			v += half
		}
		out[i] = v
		for j := last + 1; j < i; j++ {
			if out[j] = v; last >= 0 {
				out[j] = out[last] + (v-out[last])*float64(j-last)/float64(i-last)
			}
		}
		last = i
	}
	if 10*missed > 3*n {
		return nil, false
	}
	for j := last + 1; j < n; j++ {
		out[j] = out[last]
	}
	takeLine(out)
	return out, true
}

func takeLine(x []float64) {
	n := float64(len(x))
	var s, ks float64
	for i, v := range x {
		s += v
		ks += v * (float64(i) - (n-1)/2)
	}
	slope := ks * 12 / (n * (n*n - 1))
	for i := range x {
		x[i] -= s/n + slope*(float64(i)-(n-1)/2)
	}
}

// tone is a line of the spectrum that stands out.
type tone struct {
	f      float64 // turns a beat
	amp    float64
	ratio  float64 // of its power to that beside it
	chance float64
}

// Period is a periodic error whose arbor isn't known.
type Period struct {
	Beats     quantity.Value `json:"beats"`              // from one return to the next
	PeriodS   float64        `json:"period_s"`           // in the clock's own time
	Amplitude quantity.Value `json:"amplitude_s"`        // of the beats' time error
	Chance    float64        `json:"chance"`             // of one so strong anywhere in the run without any error
	Explains  []string       `json:"explains,omitempty"` // arbors or parts that could turn so, in words
}

// Periods returns what repeats in the beats: peaks of the spectrum under a raised
// cosine, each against the median of the power at both its sides, whichever is the
// greater, by the F distribution with the chance of the best of all frequencies.
// Overtones are left out. half is half the tick–tock offset, nominal
// the clock's own interval, seconds; truth is the true seconds in one of the count.
func (p *Spectrum) Periods(half, nominal, truth float64) []Period {
	x, ok := p.level(half)
	if !ok {
		return nil
	}
	n := len(x)
	var out []Period
	for _, t := range fundamentals(tones(x), 1/float64(n)) {
		// The frequency of one tone among white noise: u(f) = √6·σ/(π·A·n^1.5), and
		// A/(σ·√(2/n)) is √ratio, from memory; twice that for the raised cosine.
		uf := 2 * math.Sqrt(3) / (math.Pi * float64(n) * math.Sqrt(t.ratio))
		beats := quantity.Value{V: 1 / t.f, U: uf / (t.f * t.f)}
		out = append(out, Period{
			Beats: beats, PeriodS: beats.V * nominal,
			Amplitude: quantity.Value{V: t.amp * truth, U: t.amp * truth / math.Sqrt(2*t.ratio)},
			Chance:    t.chance,
			Explains:  explains(beats, nominal),
		})
	}
	return out
}

// tones finds the peaks that stand out, strongest first.
func tones(x []float64) []tone {
	n := len(x)
	y := make([]float64, n)
	for i, v := range x {
		y[i] = v * raisedCosine((float64(i)+0.5)/float64(n))
	}
	c := transform(y)
	p := powers(c)
	last := min(len(p)-2, int(float64(n)/leastPeriod))
	var out []tone
	for i := leastCycles; i <= last; i++ {
		if p[i] < p[i-1] || p[i] < p[i+1] {
			continue
		}
		reach := min(40, i/2)
		left := p[max(1, i-3-reach):max(1, i-3)]
		right := p[min(i+4, len(p)):min(i+4+40, len(p))]
		floor := max(middle(left), middle(right)) / math.Ln2
		// The raised cosine joins neighbours: of three bins, two are worth one, and a
		// median is worth half as much as a mean.
		ratio := p[i] / floor
		ch := chance(p[i], floor, 2*float64(len(right))/3) * float64(last)
		if !(floor > 0) || ch > believe || (i < redBins && p[i] < 4*slices.Max(left)) {
			continue
		}
		shift := 0.0
		if d := cmplx.Abs(c[i-1]) + 2*cmplx.Abs(c[i]) + cmplx.Abs(c[i+1]); d > 0 {
			// Between the bins: the raised cosine's own shape, (b−a)/(a+2m+b)·2.
			shift = 2 * (cmplx.Abs(c[i+1]) - cmplx.Abs(c[i-1])) / d
		}
		shift = max(-0.5, min(0.5, shift))
		if amp := 2 * cmplx.Abs(c[i]) / float64(n) / scallop(shift); amp >= leastAmplitude {
			out = append(out, tone{f: (float64(i) + shift) / float64(n), amp: amp, ratio: ratio, chance: ch})
		}
	}
	slices.SortFunc(out, byAmplitude)
	return out
}

// byAmplitude sorts the strongest tone first; of equals the slower one.
func byAmplitude(a, b tone) int {
	return cmp.Or(cmp.Compare(b.amp, a.amp), cmp.Compare(a.f, b.f))
}

// scallop is the raised cosine's scalloping loss, the share of a tone's amplitude that
// is seen d bins off its frequency: sinc(d)/(1−d²).
func scallop(d float64) float64 {
	if math.Abs(d) < 1e-6 {
		return 1
	}
	return math.Sin(math.Pi*d) / (math.Pi * d * (1 - d*d))
}

func middle(p []float64) float64 {
	if len(p) < 3 {
		return 0
	}
	return robust.Median(slices.Clone(p))
}

// fundamentals leaves out whole multiples of a slower tone, to within a bin.
func fundamentals(ts []tone, bin float64) []tone {
	var out []tone
	for _, t := range ts {
		over := slices.ContainsFunc(ts, func(o tone) bool {
			m := math.Round(t.f / o.f)
			return m >= 2 && m <= 30 && math.Abs(t.f-m*o.f) < bin*(1+m/10)
		})
		if !over && len(out) < mostPeriods {
			out = append(out, t)
		}
	}
	return out
}

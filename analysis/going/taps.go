package going

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"evenbeat/devices/quantity"
)

// RoundTrip is one question to the host for its time: when a phone sent it and had the
// answer, in seconds of the phone's own clock, and the host's time in between.
type RoundTrip struct {
	Sent, Back float64
	Host       time.Time
}

func (r RoundTrip) middle() float64 { return (r.Sent + r.Back) / 2 }

// half is the half-width of what the host's time at the middle can be off: however a
// round trip is shared between its two ways, the host's time was taken within it.
func (r RoundTrip) half() float64 { return (r.Back - r.Sent) / 2 }

// Taps are three taps on a phone, each as a hand passed a mark. The first mark is a full
// minute. Times are in seconds of the phone's clock, which may start anywhere.
type Taps struct {
	At            [3]float64
	Marks         float64     // from a mark to the next, s: 60 for full minutes
	Before, After []RoundTrip // around the taps; the shortest of each is used
	Step          float64     // least step of the phone's clock, s
}

// Tapped is what taps say of a dial.
type Tapped struct {
	At     time.Time // of the tap that ErrorS is from, by the host's clock
	ErrorS float64   // plus = fast
	U      float64   // standard uncertainty, s
}

const (
	// mostApart is by how much a phone's clock may run apart from the host's. A quartz
	// clock keeps within a tenth of that (our own choice, no source).
	mostApart = 500e-6
	// medianOfThree is the variance of the median of three over that of one, for normal
	// errors: 1 − √3/π (the integral over the middle order statistic, in closed form).
	medianOfThree = 0.4487
	// fewTaps widens what three taps scatter: t at 2 degrees of freedom over the normal
	// deviate, both for 95 % (JCGM 100:2008, G.3 and table G.2).
	fewTaps = 4.303 / 1.960
)

// Check returns the dial's error from the median of the taps. hand is what the dial
// showed at the first tap, and zone that of the dial. limitS is the limit of error of one
// comparison, in s: by it a person may be early or late at every tap alike, so that the
// median makes it no less (common practice, no source). To it are added in quadrature the
// scatter of the taps and the half-width of the phone's offset, limits as rectangular
// distributions.
func (t Taps) Check(hand quantity.Hand, limitS float64, zone *time.Location) (Tapped, error) {
	host, half, err := t.hostTime()
	if err != nil {
		return Tapped{}, err
	}
	var errs [3]float64
	first := hand.DialError(host(t.At[0]).In(zone))
	for i, p := range t.At {
		took := host(p).Sub(host(t.At[0])).Seconds()
		marks := math.Round(took / t.Marks)
		if i > 0 && (p <= t.At[i-1] || marks < 1) {
			return Tapped{}, errors.New("two taps are of the same mark: tap three anew")
		}
		errs[i] = first + marks*t.Marks - took
	}
	sorted := slices.Sorted(slices.Values(errs[:]))
	median := sorted[1]
	if off := max(sorted[2]-median, median-sorted[0]); off > t.Marks/4 {
		return Tapped{}, fmt.Errorf("a tap is %s from the two others, as if between two marks: tap three anew", quantity.SpanText(off))
	}
	mean, sum := (errs[0]+errs[1]+errs[2])/3, 0.0
	for _, e := range errs {
		sum += (e - mean) * (e - mean)
	}
	scatter := fewTaps * math.Sqrt(medianOfThree*sum/2)
	return Tapped{
		At:     host(t.At[slices.Index(errs[:], median)]),
		ErrorS: median,
		U:      math.Hypot(scatter, math.Hypot(limitS, half)/math.Sqrt(3)),
	}, nil
}

// hostTime returns the function from the phone's time to the host's, a line through the
// shortest round trips before and after the taps, and the half-width of what it can be off.
func (t Taps) hostTime() (func(float64) time.Time, float64, error) {
	if len(t.Before) == 0 || len(t.After) == 0 {
		return nil, 0, errors.New("the phone's clock was not held against this computer's: tap three anew")
	}
	for _, r := range slices.Concat(t.Before, t.After) {
		if !(r.Back >= r.Sent) {
			return nil, 0, errors.New("the phone's clock went back: tap three anew")
		}
	}
	shortest := func(a, b RoundTrip) int {
		if a.half() < b.half() {
			return -1
		}
		return 1
	}
	b, a := slices.MinFunc(t.Before, shortest), slices.MinFunc(t.After, shortest)
	if !(b.Back <= t.At[0] && t.At[2] <= a.Sent) {
		return nil, 0, errors.New("the taps are not between the looks at this computer's clock: tap three anew")
	}
	took, took2 := a.middle()-b.middle(), a.Host.Sub(b.Host).Seconds()
	if !(math.Abs(took2-took) <= a.half()+b.half()+2*t.Step+mostApart*took) {
		return nil, 0, errors.New("the phone's clock and this computer's ran apart, as when one sleeps or is set: tap three anew")
	}
	return func(p float64) time.Time {
		return b.Host.Add(time.Duration((p - b.middle()) / took * took2 * 1e9))
	}, max(a.half(), b.half()) + t.Step, nil
}

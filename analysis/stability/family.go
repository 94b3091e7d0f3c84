package stability

import (
	"fmt"
	"math"
	"slices"

	"evenbeat/devices/quantity"
)

// Family computes the Allan family without TOTDEV, at any averaging factors, of a series
// of phases that comes point by point. Its memory doesn't grow with the series: 32 kB at
// most for each averaging factor.
//
// ADEV, HDEV and the kind of noise use the same terms as a Table. So do OADEV, MDEV and
// OHDEV below m = 2·thinAbove. From there on only every m/thinAbove-th term counts, as in
// a Stream. As a share of half the 68 % interval, leaving out the others moves OADEV and
// OHDEV by a twenty-fifth or less on average where the noise is white frequency or
// redder. With white phase noise it moves them by half, and the interval, computed from
// the terms that are left, is wider. MDEV, whose inner sums use all points, moves by a
// tenth at most (TestFamilyThinning).
//
// MDEV's inner sums are differences of the running sum of all phases. That sum is kept
// with what each addition rounds off (the error-free addition of D. E. Knuth, The Art of
// Computer Programming, vol. 2, 4.2.2, from memory), so that after a year of beats it is
// still good to the last digit of a single phase.
//
// The definitions are those of NIST SP 1065, section 5: see the functions of series.
type Family struct {
	taus    Taus
	factors []*factor // in rising order
	zero    float64   // phase of the segment's first point that is no gap
	based   bool
	block   block
	sum     float64 // of the segment's phases
	rest    float64 // what was rounded off sum
	points  int64   // of the segment, with gaps
	gaps    int64   // of the segment
	allGaps int64   // of all segments ended
	longest int64   // of them, in points
}

const (
	// mostFactors bounds the memory that a list can ask for, to 16 MB.
	mostFactors = 500
	blockPoints = 256
	// before is the number of points kept from before a block. Terms that aren't thinned
	// reach back by three times their factor.
	before = 3 * 2 * thinAbove
)

// block is a run of new points for all factors, after some earlier ones. Before a segment
// there are gaps.
type block struct {
	first int64                         // number of the segment's first point
	at    int64                         // place in its segment of the first point to come
	n     int                           // points to come
	x     [before + blockPoints]float64 // phase, NaN at a gap
	sum   [before + blockPoints]float64 // of all phases before it
	rest  [before + blockPoints]float64 // what was rounded off sum
	gaps  [before + blockPoints]int64   // before it; −1 in front of a segment
}

func (b *block) begin(first int64) {
	b.first, b.at, b.n = first, 0, 0
	for i := range before {
		b.x[i], b.gaps[i] = math.NaN(), -1
	}
}

// advance makes room for the next points.
func (b *block) advance() {
	copy(b.x[:before], b.x[b.n:])
	copy(b.sum[:before], b.sum[b.n:])
	copy(b.rest[:before], b.rest[b.n:])
	copy(b.gaps[:before], b.gaps[b.n:])
	b.at += int64(b.n)
	b.n = 0
}

// NewFamily returns a Family for averaging factors chosen before the length of the
// series is known. The error is a *quantity.InputError for the choice of all factors,
// and for more than mostFactors.
func NewFamily(taus Taus) (*Family, error) {
	if taus.spacing == all {
		return nil, quantity.BadInput("taus", "all",
			"a series that isn't held in memory takes only chosen averaging times: write octave, decade, or a list such as 1,2,10")
	}
	f := &Family{taus: taus}
	f.block.begin(0)
	const endless = 2*maxFactor + minTerms
	asked, _ := taus.factors(endless)
	if len(asked) > mostFactors {
		return nil, quantity.BadInput("taus", fmt.Sprintf("%s … (%d of them)", shorten(taus.String()), len(asked)),
			fmt.Sprintf("at most %d for a series that isn't held in memory: choose fewer", mostFactors))
	}
	// The octaves identify the noise for times that are too long to do so.
	octaves, _ := Octave().factors(endless)
	factors := slices.Concat(asked, octaves)
	slices.Sort(factors)
	for _, m := range slices.Compact(factors) {
		_, ask := slices.BinarySearch(asked, m)
		f.factors = append(f.factors, newFactor(m, ask))
	}
	return f, nil
}

// Segment begins a new segment, and no term reaches across. first is the number of its
// first point; whether that is even or odd matters for what alternates.
func (f *Family) Segment(first int64) {
	if f.points > 0 {
		// The sum of the last m phases is complete only beyond the last of them.
		f.push(math.NaN())
		f.flush()
		for _, x := range f.factors {
			x.end(f.points, f.gaps)
		}
	}
	f.longest = max(f.longest, f.points)
	f.allGaps += f.gaps
	f.based, f.sum, f.rest, f.points, f.gaps = false, 0, 0, 0, 0
	f.block.begin(first)
}

// Add takes the segment's next phases in seconds: by how much each beat was late or
// early. NaN or infinity is a gap.
func (f *Family) Add(phases []float64) {
	f.points += int64(len(phases))
	for _, x := range phases {
		if !(math.Abs(x) <= math.MaxFloat64) {
			x = math.NaN()
		} else if !f.based {
			f.zero, f.based = x, true // phases near zero have the most digits
		}
		x -= f.zero
		f.push(x)
		if x != x {
			f.gaps++
			continue
		}
		sum := f.sum + x
		part := sum - f.sum
		f.rest += (f.sum - (sum - part)) + (x - part)
		f.sum = sum
	}
}

func (f *Family) push(x float64) {
	b := &f.block
	if b.n == blockPoints {
		f.flush()
	}
	i := before + b.n
	b.x[i], b.sum[i], b.rest[i], b.gaps[i] = x, f.sum, f.rest, f.gaps
	b.n++
}

func (f *Family) flush() {
	for _, x := range f.factors {
		x.take(&f.block)
	}
	f.block.advance()
}

// Result ends the segment and returns the table of all that was added.
//
// interval is the time between points in seconds, and scale the true seconds in one
// second of the phases. alternating, in the unit of the phases, is by how much points of
// even number lie above the mean of even and odd, and those of odd number below it. It
// makes second differences over an odd m alternate by ±4·alternating and third ones by
// ±8·alternating, which is subtracted from the terms. It isn't subtracted where the noise
// is identified, so that most of it should be removed from the phases beforehand.
//
// Several segments have the equivalent degrees of freedom of one with as many terms.
// The error is a *quantity.InputError: interval not positive, no segment of three
// points, or none that is long enough for any averaging time chosen.
func (f *Family) Result(interval, scale, alternating float64) (Result, error) {
	if err := checkInterval(interval); err != nil {
		return Result{}, err
	}
	f.Segment(0)
	if f.longest < 2+minTerms {
		return Result{}, quantity.BadInput("points", f.longest,
			"at least 3 in an unbroken stretch are needed for the shortest averaging time")
	}
	use, tooLong := f.taus.factors(f.longest)
	if len(use) == 0 {
		return Result{}, f.taus.allTooLong(f.longest)
	}
	r := Result{Rows: []Row{}}
	var short, noise Noise
	var carried, thinned float64
	for _, x := range f.factors {
		row := x.row(interval, scale, alternating)
		own, ok := x.noise(short, row)
		if ok {
			noise = own
		}
		if x.m == 2 {
			short = own
		}
		if row.OADev == nil {
			continue
		}
		if row.Noise = noise; !ok && noise != "" && carried == 0 {
			carried = row.TauS
		}
		row.setInterval(x.heard-2*x.m*(x.spans-1), x.m, x.stride)
		if x.stride > 1 && thinned == 0 {
			thinned = row.TauS
		}
		r.Rows = append(r.Rows, row)
	}
	r.Warnings = f.warnings(r.Rows, tooLong, thinned, carried)
	return r, nil
}

func (f *Family) warnings(rows []Row, tooLong []int64, thinned, carried float64) []string {
	w := warnings(rows, tooLong, f.longest, f.allGaps, carried)
	if thinned > 0 {
		w = append(w, fmt.Sprintf("from tau %s s on only every m/%d-th overlapping term is summed, and n counts these: with white phase noise the figures are less certain for it, as low and high show", tauText(thinned), thinAbove))
	}
	for _, r := range rows {
		if r.MDev == nil && r.OHDev != nil && f.allGaps > 0 {
			w = append(w, fmt.Sprintf("from tau %s s on MDEV and TDEV are left out: too few runs of 3m points have no gap", tauText(r.TauS)))
			break
		}
	}
	return append(w, "TOTDEV is left out: it needs the whole series at once")
}

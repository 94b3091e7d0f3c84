package numbering

const (
	// mostOutliers are kept of each place: enough for a median.
	mostOutliers = 64
	// outlierSegments with outliers are remembered, the first ones.
	outlierSegments = 32
	// leastRun beats off in a row make a run, and mostRuns are kept, the first ones.
	leastRun, mostRuns = 3, 512
)

// Outliers keeps the beats that came late or early, by their place in the escape
// wheel's turn: a bent tooth throws its beats off by the same time in each turn, and
// others come anywhere.
type Outliers struct {
	places   int
	segments map[int][]OutlierPlace
	runs     []Run
}

// Run is beats that were off in a row, with no more than one missed among them.
type Run struct {
	segment     int
	first, last int64
	N           int
	Sum         float64 // of their time errors against the beats before and after, seconds
}

// Middle returns the place of the run, in beats.
func (r Run) Middle() float64 { return float64(r.first+r.last) / 2 }

// Runs returns the runs of three beats and more of the segment with most of them, in
// order.
func (o *Outliers) Runs() []Run {
	if o == nil {
		return nil
	}
	of := map[int][]Run{}
	var most []Run
	for _, r := range o.runs {
		if r.N < leastRun {
			continue
		}
		if of[r.segment] = append(of[r.segment], r); len(of[r.segment]) > len(most) {
			most = of[r.segment]
		}
	}
	return most
}

// run puts a beat that was off to the run that it goes on, or begins one.
func (o *Outliers) run(segment int, k int64, err float64) {
	if last := len(o.runs) - 1; last >= 0 {
		r := &o.runs[last]
		if r.segment == segment && k > r.last && k <= r.last+2 && r.Sum*err > 0 {
			r.last, r.N, r.Sum = k, r.N+1, r.Sum+err
			return
		}
		if r.N < leastRun {
			o.runs = o.runs[:last]
		}
	}
	if len(o.runs) < mostRuns {
		o.runs = append(o.runs, Run{segment, k, k, 1, err})
	}
}

// OutlierPlace holds the outliers at one place of the turn.
type OutlierPlace struct {
	N float64 // how many there were
	// Errors are the time errors of the first of them, in seconds, against the
	// prediction of the tracking loop.
	Errors []float32
}

func newOutliers(places int) *Outliers {
	if places == 0 {
		return nil
	}
	return &Outliers{places: places, segments: map[int][]OutlierPlace{}}
}

// add takes an event of a segment, with its time error against beat k, and by how much
// the prediction was off by then, as the next beat in its place shows; both in seconds.
func (o *Outliers) add(segment int, k int64, err, drift float64) {
	if o == nil {
		return
	}
	o.run(segment, k, err-drift)
	ps := o.segments[segment]
	if ps == nil {
		if len(o.segments) >= outlierSegments {
			return
		}
		ps = make([]OutlierPlace, o.places)
		o.segments[segment] = ps
	}
	size := int64(o.places)
	p := &ps[((k%size)+size)%size]
	p.N++
	if len(p.Errors) < mostOutliers {
		p.Errors = append(p.Errors, float32(err))
	}
}

// Of returns the outliers of a segment at each place of the turn; nil for none.
func (o *Outliers) Of(segment int) []OutlierPlace {
	if o == nil {
		return nil
	}
	return o.segments[segment]
}

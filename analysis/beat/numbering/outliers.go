package numbering

const (
	// mostOutliers are kept of each place: enough for a median.
	mostOutliers = 64
	// outlierSegments with outliers are remembered, the first ones.
	outlierSegments = 32
)

// Outliers keeps the beats that came late or early, by their place in the escape
// wheel's turn: a bent tooth throws its beats off by the same time in each turn, and
// others come anywhere.
type Outliers struct {
	places   int
	segments map[int][]OutlierPlace
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

// add takes an event of a segment, with its time error against beat k in seconds.
func (o *Outliers) add(segment int, k int64, err float64) {
	if o == nil {
		return
	}
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

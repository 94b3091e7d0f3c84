package simulate

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"evenbeat/devices"
)

// cell is the step of the grid on which the clock's going is computed, in seconds.
const cell = 60.0

// Clock is a simulated pendulum clock that knows its whole truth. It is safe for use by
// several goroutines.
//
// Its rate R is the sum of the configured rate, temperature and pressure, the circular
// error against that at full wind, the nut and a random walk. The dial runs at 1 +
// R/86400. Between the minutes R is a straight line, of which the dial is the exact
// integral. Beat k falls where an evenly divided dial would have gone k nominal
// intervals. The hands are taken to follow the beats without their wheel errors.
type Clock struct {
	cfg ClockConfig
	// One value for each edge of a cell.
	temp, hPa, hum []float64
	dial           []float64 // s the dial has gone since the start
	// Values at the beginning and the end of each cell, since winding and the nut make
	// steps between cells.
	rateFrom, rateTo []float64 // s/day; -86400 while the clock stands
	ampFrom, ampTo   []float64 // rad; 0 while the clock stands
	countStart       float64   // s on the sensor's counter at the start
}

// NewClock computes the clock's going over its whole span: some 10,000 minutes for a
// week. The error names what no clock could have, and the range.
func NewClock(cfg ClockConfig) (*Clock, error) {
	if err := cfg.check(); err != nil {
		return nil, err
	}
	cfg = cfg.settled()
	n := int(math.Ceil(cfg.Span / cell))
	c := &Clock{cfg: cfg,
		temp: make([]float64, n+1), hPa: make([]float64, n+1), hum: make([]float64, n+1),
		dial: make([]float64, n+1), rateFrom: make([]float64, n), rateTo: make([]float64, n),
		ampFrom: make([]float64, n), ampTo: make([]float64, n),
	}
	cfg.Room.fill(cfg.Seed, c.temp, c.hPa, c.hum)
	c.swing()
	c.run()
	if cfg.CountBits < 64 {
		c.countStart = source(cfg.Seed, streamCounter).Float64() * math.Exp2(float64(cfg.CountBits)) / cfg.CountRate
	}
	return c, nil
}

// settled returns a copy that shares no slice with c, with its events on whole minutes
// and in order.
func (c ClockConfig) settled() ClockConfig {
	c = c.clone()
	minute := func(t float64) float64 { return math.Round(t/cell) * cell }
	for i, t := range c.Wound {
		c.Wound[i] = minute(t)
	}
	for i, t := range c.Turns {
		c.Turns[i].At = minute(t.At)
	}
	for i, s := range c.Stops {
		c.Stops[i] = Span{minute(s.From), minute(s.To)}
	}
	slices.Sort(c.Wound)
	slices.Sort(c.Resets)
	slices.SortStableFunc(c.Turns, func(a, b Turn) int { return cmp.Compare(a.At, b.At) })
	return c
}

func (c ClockConfig) clone() ClockConfig {
	c.Wound, c.Resets = slices.Clone(c.Wound), slices.Clone(c.Resets)
	c.Turns, c.Stops, c.Wheels = slices.Clone(c.Turns), slices.Clone(c.Stops), slices.Clone(c.Wheels)
	return c
}

// swing fills in the amplitude. The torque falls in a straight line from full wind to
// TorqueEnd. The arc goes with its root, because the work lost in a swing goes with the
// square of the arc (common practice, no source).
func (c *Clock) swing() {
	stopped := make([]bool, len(c.ampFrom))
	for _, s := range c.cfg.Stops {
		from, to := int(s.From/cell), int(s.To/cell)
		for i := max(0, from); i < min(len(stopped), to); i++ {
			stopped[i] = true
		}
	}
	amplitude := func(since float64) float64 {
		torque := 1 - (1-c.cfg.TorqueEnd)*since/c.cfg.Run
		return c.cfg.Amplitude * math.Sqrt(torque)
	}
	next, wound := 0, math.Inf(-1)
	for i := range c.ampFrom {
		t := float64(i) * cell
		for next < len(c.cfg.Wound) && c.cfg.Wound[next] <= t {
			wound = c.cfg.Wound[next]
			next++
		}
		if stopped[i] || t+cell-wound > c.cfg.Run {
			continue
		}
		c.ampFrom[i], c.ampTo[i] = amplitude(t-wound), amplitude(t+cell-wound)
	}
}

// run fills in rate and dial from the air and the amplitude.
func (c *Clock) run() {
	g := source(c.cfg.Seed, streamWalk)
	step := c.cfg.Walk * math.Sqrt(cell/day)
	lag := 1.0
	if c.cfg.RodLag > 0 {
		lag = 1 - math.Exp(-cell/c.cfg.RodLag)
	}
	full := CircularLoss(c.cfg.Amplitude)
	rod, walk := c.temp[0], 0.0
	turns, nut := c.cfg.Turns, 0.0
	common := func(edge int) float64 {
		return c.cfg.Rate + walk + c.cfg.Temperature*(rod-20) + c.cfg.Pressure*(c.hPa[edge]-1013.25)
	}
	for i := range c.rateFrom {
		for len(turns) > 0 && turns[0].At <= float64(i)*cell {
			nut += turns[0].Turns * c.cfg.Nut
			turns = turns[1:]
		}
		from := common(i)
		rod += lag * (c.temp[i+1] - rod)
		walk += step * g.NormFloat64()
		to := common(i + 1)
		c.rateFrom[i], c.rateTo[i] = -day, -day
		if c.ampFrom[i] > 0 {
			c.rateFrom[i] = max(-day/2, from+nut+full-CircularLoss(c.ampFrom[i]))
			c.rateTo[i] = max(-day/2, to+nut+full-CircularLoss(c.ampTo[i]))
		}
		c.dial[i+1] = c.dial[i] + cell*(1+(c.rateFrom[i]+c.rateTo[i])/2/day)
	}
}

// Config returns the clock's configuration, its events in order and on the minutes
// where they took effect.
func (c *Clock) Config() ClockConfig { return c.cfg.clone() }

// place returns the cell that t falls in, and how far into it, in seconds. A time
// outside the scene is taken as its nearest end.
func (c *Clock) place(t float64) (int, float64) {
	end := float64(len(c.rateFrom)) * cell
	if !(t > 0) {
		t = 0
	}
	t = min(t, end)
	i := min(int(t/cell), len(c.rateFrom)-1)
	return i, t - float64(i)*cell
}

func between(from, to, into float64) float64 { return from + (to-from)*into/cell }

// RateAt returns the true rate in s/day at t seconds since the start; -86400
// while the clock stands. Outside the scene: the rate at its nearest end.
func (c *Clock) RateAt(t float64) float64 {
	i, into := c.place(t)
	return between(c.rateFrom[i], c.rateTo[i], into)
}

// dialGone returns how far the dial has gone since the start.
func (c *Clock) dialGone(t float64) float64 {
	i, into := c.place(t)
	a, b := c.rateFrom[i], c.rateTo[i]
	return c.dial[i] + into + (a*into+(b-a)*into*into/(2*cell))/day
}

// DialError returns by how many seconds the dial is fast at t: its error at the start
// plus the integral of the rate since.
func (c *Clock) DialError(t float64) float64 {
	i, into := c.place(t)
	return c.cfg.DialStart + c.dialGone(t) - (float64(i)*cell + into)
}

// MeanRate returns the mean rate in s/day from one time to another, end to end: the
// change of the dial's error over the span. For an empty span it returns RateAt.
func (c *Clock) MeanRate(from, to float64) float64 {
	if !(to > from) {
		return c.RateAt(from)
	}
	return day * (c.DialError(to) - c.DialError(from)) / (to - from)
}

// Amplitude returns the semi-amplitude in radians; 0 while the clock stands.
func (c *Clock) Amplitude(t float64) float64 {
	i, into := c.place(t)
	return between(c.ampFrom[i], c.ampTo[i], into)
}

// TickTock returns the difference of the two half-periods at t, in seconds: the
// interval after an even beat less the interval after an odd one.
func (c *Clock) TickTock(t float64) float64 {
	return HalfPeriodDifference(c.cfg.Interval(), c.cfg.Offset, c.Amplitude(t))
}

// Air returns the air around the clock at t.
func (c *Clock) Air(t float64) devices.Air {
	i, into := c.place(t)
	return devices.Air{
		TemperatureC:   between(c.temp[i], c.temp[i+1], into),
		PressureHPa:    between(c.hPa[i], c.hPa[i+1], into),
		HumidityPct:    between(c.hum[i], c.hum[i+1], into),
		HasTemperature: true, HasPressure: true, HasHumidity: true,
	}
}

// ReadDial returns the dial's error as someone reads it against a reference at t: the
// truth and a scatter of DialReading. The same t gives the same reading.
func (c *Clock) ReadDial(t float64) float64 {
	g := newNumbered(c.cfg.Seed).at(streamDial, int64(math.Float64bits(t)))
	return c.DialError(t) + c.cfg.DialReading*g.NormFloat64()
}

// whenGone returns when the dial had gone so many seconds: 0 or more, and less than it
// goes in the whole scene.
func (c *Clock) whenGone(gone float64) float64 {
	// The first edge beyond it ends a cell in which the clock went.
	i := sort.Search(len(c.dial)-1, func(i int) bool { return c.dial[i+1] > gone })
	i = min(i, len(c.rateFrom)-1)
	a, b := c.rateFrom[i], c.rateTo[i]
	rest := gone - c.dial[i]
	into := rest / (1 + (a+b)/2/day)
	for range 4 { // Newton's method; two would do, as the bend within a minute is tiny
		f := into + (a*into+(b-a)*into*into/(2*cell))/day - rest
		into -= f / (1 + (a+(b-a)*into/cell)/day)
	}
	return float64(i)*cell + into
}

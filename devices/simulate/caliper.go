package simulate

import (
	"fmt"
	"iter"
	"math"
	"strconv"

	"evenbeat/devices/quantity"
)

// Jaws are the faces of the instrument that take the measure.
type Jaws uint8

// The faces. Inside jaws and the depth rod have a limit of error of their own.
const (
	Outside Jaws = iota
	Inside
	Depth
)

// CaliperConfig is what makes a simulated caliper or micrometer. Lengths are in
// metres.
type CaliperConfig struct {
	Seed        uint64
	Range       float64       // the longest length that it measures
	Unit        quantity.Unit // Millimetre or Inch, as it sends
	Step        float64       // one digital step
	Limit       float64       // ± limit of error, outside
	LimitInside float64       // ± limit of error, inside and depth
	Repeat      float64       // scatter of repeated readings, standard deviation
}

// DefaultCaliper sends millimetres in steps of 0.01. Its limits are those of DIN 862
// for short lengths: 20 µm, and 20 µm more for inside and depth.
func DefaultCaliper(seed uint64) CaliperConfig {
	return CaliperConfig{Seed: seed, Range: 0.150, Unit: quantity.Millimetre, Step: 10e-6,
		Limit: 20e-6, LimitInside: 40e-6, Repeat: 4e-6}
}

// DefaultMicrometer sends millimetres in steps of 0.001. Its limit is that of DIN 863
// up to 50 mm: 4 µm. It has no inside jaws, so both limits are the same.
func DefaultMicrometer(seed uint64) CaliperConfig {
	return CaliperConfig{Seed: seed, Range: 0.025, Unit: quantity.Millimetre, Step: 1e-6,
		Limit: 4e-6, LimitInside: 4e-6, Repeat: 0.7e-6}
}

// Caliper is a simulated length gauge. Its systematic error is drawn once from the
// seed, and stays: a zero error, an error that grows with the length, and one more each
// for inside jaws and depth rod. All readings share it, as in life. Not safe for use by
// several goroutines.
type Caliper struct {
	cfg           CaliperConfig
	zero, scale   float64 // m, 1
	inside, depth float64 // m
	draws         *numbered
	presses       int64
}

// NewCaliper draws the instrument's errors within its limits. It fails on what no such
// instrument has.
func NewCaliper(cfg CaliperConfig) (*Caliper, error) {
	if cfg.Unit != quantity.Millimetre && cfg.Unit != quantity.Inch {
		return nil, fmt.Errorf("simulated caliper: unit %q: it sends mm or in", cfg.Unit)
	}
	for _, r := range []struct {
		name            string
		value, low, top float64
	}{
		{"range (m)", cfg.Range, 1e-3, 10},
		{"step (m)", cfg.Step, 1e-8, 1e-2},
		{"limit (m)", cfg.Limit, 0, 1e-2},
		{"inside limit (m)", cfg.LimitInside, cfg.Limit, 1e-2},
		{"repeat (m)", cfg.Repeat, 0, 1e-2},
	} {
		if !(r.value >= r.low && r.value <= r.top) {
			return nil, fmt.Errorf("simulated caliper: %s is %g: must be from %g to %g", r.name, r.value, r.low, r.top)
		}
	}
	g := source(cfg.Seed, streamCaliper)
	even := func(limit float64) float64 { return limit * (2*g.Float64() - 1) }
	// Half the limit for the zero and half for the whole range keep every length within
	// the limit.
	c := &Caliper{cfg: cfg, draws: newNumbered(cfg.Seed)}
	c.zero = even(cfg.Limit / 2)
	c.scale = even(cfg.Limit/2) / cfg.Range
	c.inside = even(cfg.LimitInside - cfg.Limit)
	c.depth = even(cfg.LimitInside - cfg.Limit)
	return c, nil
}

// ErrorAt returns the instrument's fixed error in metres at a length: what it shows on
// average less the truth, before rounding to its step.
func (c *Caliper) ErrorAt(length float64, j Jaws) float64 {
	e := c.zero + c.scale*length
	switch j {
	case Inside:
		e += c.inside
	case Depth:
		e += c.depth
	}
	return e
}

// Shown returns what the instrument shows, in metres, at the next press of its button:
// the truth, its fixed error and the scatter of handling, rounded to the step. Each
// press draws anew. The n-th is the same for the same seed.
func (c *Caliper) Shown(length float64, j Jaws) float64 {
	c.presses++
	scatter := c.cfg.Repeat * c.draws.at(streamPress, c.presses).NormFloat64()
	return math.Round((length+c.ErrorAt(length, j)+scatter)/c.cfg.Step) * c.cfg.Step
}

// AppendLine appends the line that a press sends, as text-length: the number aligned
// right in ten columns, then the unit, CR LF.
//
//	"     63.50mm\r\n", "    2.5000in\r\n"
func (c *Caliper) AppendLine(dst []byte, length float64, j Jaws) []byte {
	unit := c.cfg.Unit.Metres()
	// As many decimals as the step needs, so that rounding loses nothing.
	decimals := 0
	for s := c.cfg.Step / unit; decimals < 7 && math.Abs(s-math.Round(s)) > 1e-6; decimals++ {
		s *= 10
	}
	text := strconv.FormatFloat(c.Shown(length, j)/unit, 'f', decimals, 64)
	for range 10 - len(text) {
		dst = append(dst, ' ')
	}
	dst = append(dst, text...)
	dst = append(dst, c.cfg.Unit.String()...)
	return append(dst, '\r', '\n')
}

// Press is one reading that someone takes.
type Press struct {
	Dimension string
	True      float64 // m
	Jaws      Jaws
	Fine      bool // with the micrometer, not the caliper
}

// Lines yields arrival (ns since the start) and bytes of a press every so many seconds,
// the first at from, for Bench. The bytes are good until the next is asked for.
func (c *Caliper) Lines(from, every float64, presses iter.Seq[Press]) iter.Seq2[int64, []byte] {
	return func(yield func(int64, []byte) bool) {
		var line []byte
		at := from
		for p := range presses {
			line = c.AppendLine(line[:0], p.True, p.Jaws)
			if !yield(int64(at*1e9), line) {
				return
			}
			at += every
		}
	}
}

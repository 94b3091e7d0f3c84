package spring

import (
	"fmt"
	"math"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Input is what is known of a spring and its barrel. Lengths are in metres; what is
// not known is nil. Bore and Arbor, and Strip or Inner, make a verdict possible
// together with one of Length, Inner and Coils.
type Input struct {
	Part string

	Bore, Arbor *uncertainty.Quantity // of the barrel; of the arbor where the coil seats
	Strip       *uncertainty.Quantity // thickness of the strip
	Height      *uncertainty.Quantity // of the strip
	Depth       *uncertainty.Quantity // inside, between barrel floor and cover
	Length      *uncertainty.Quantity // of the strip, out of the barrel
	Inner       *uncertainty.Quantity // across the innermost coil, spring run down in the barrel
	Coils       *uncertainty.Quantity // number of coils, spring run down in the barrel
	FreeAcross  *uncertainty.Quantity // diameter of the released spring lying free
	FreeCoils   *uncertainty.Quantity // number of coils of the released spring lying free
	Torque      *uncertainty.Quantity // N·m measured at the arbor at full wind

	stripByCoils bool // Strip follows from Bore, Inner and Coils

	// Prefer names the way to the length that is used where several are known. Without
	// it that is the measured strip, then the inner diameter, then the count of coils.
	Prefer LengthFrom

	// Hook says whether the hook, and the strip's end that it holds, were found good: Kept,
	// Broken, NotKnown where only one end was looked at, or "" where nobody looked.
	Hook Held
	// End is that of the spring at the barrel's wall (hole, loop, T-end), and Direction the
	// way it winds, seen from the winding square; "" where nobody looked.
	End, Direction string

	// BarrelTurnHours is how long the train's first arbor, the barrel's or with a fusee the
	// fusee's, takes for a turn; 0 if not known.
	BarrelTurnHours float64
	// Turns that decide how long the clock goes on one winding. SetUp are put on before
	// stopwork or chain take hold, and stay in the spring. Stop are those that stopwork lets
	// through. The chain takes Fusee round the fusee, and Chain round the barrel.
	SetUp, Stop, Fusee, Chain *uncertainty.Quantity

	Limits     Limits
	Units      quantity.System // in which sentences are written
	MonteCarlo int64           // draws; 0 = none
	Seed       uint64          // of the draws
	Stock      []Stock
	// Notes are what the reader must know about the inputs (a limit that was assumed,
	// doubtful readings). They are given among the reasons.
	Notes []string
	// Unsure are those of dimensions that the measurements contradict. They are given
	// first, in a short answer too.
	Unsure []string
}

// Limits are those of the verdict and of the rules of the trade.
type Limits struct {
	FillLow, FillHigh             float64 // share of the space
	ArborShareLow, ArborShareHigh float64 // arbor over bore
	ArborPerStripLow              float64 // arbor over strip
	EndFloatLow, EndFloatHigh     float64 // metres: inside depth less strip height
	FreeShareLow                  float64 // free diameter of the released spring over bore
	AllowanceTurns                float64 // turns lost to packing and end coils
	Modulus, ModulusU             float64 // of the strip's steel, Pa
}

// DefaultLimits returns the limits in use where nobody has set others.
//
// Fill 0.40 to 0.60: 80 % of the half-space length still serves (m-p.co.uk,
// muk/ryoc/doc_page27), about 20 % more than it is common practice without a
// source. Arbor about a third of the bore (H. Jendritzki, "Die Zugfeder", 1950);
// how far from it is common practice, no source, as are the arbor of twenty strips,
// the end float's upper limit and the free diameter. End float 0.1 mm: Jendritzki,
// for watches. Modulus 206 GPa: 2.06e5 N/mm² (tokaibane.com, flat spiral springs);
// its uncertainty covers what steels differ by, common practice, no source.
func DefaultLimits() Limits {
	return Limits{
		FillLow: 0.40, FillHigh: 0.60,
		ArborShareLow: 0.24, ArborShareHigh: 0.40,
		ArborPerStripLow: 20,
		EndFloatLow:      0.1e-3, EndFloatHigh: 1e-3,
		FreeShareLow: 2,
		Modulus:      206e9, ModulusU: 5e9,
	}
}

// Bounds of sizes (metres), of counts and torques (N·m), and of hours a turn. What lies
// beyond is a slip, and its figures would overflow.
const (
	leastSize, mostSize   = quantity.MinLength, quantity.MaxLength
	leastCount, mostCount = 1e-9, 1e5
	leastHours, mostHours = 1e-3, 1e6
)

// check finds what no measurement could give. Anything else gets an answer, if only
// "cannot tell".
func (in Input) check() error {
	for _, c := range in.named() {
		if err := c.check(in.Units); err != nil {
			return err
		}
	}
	if in.Bore == nil && in.Arbor == nil && in.Strip == nil {
		return quantity.BadInput("spring", "", "bore, arbor and strip are not known: measure them with the plan mainspring, or give --bore, --arbor and --strip")
	}
	// What is not known is NaN, for which all comparisons are false.
	known := func(q *uncertainty.Quantity) float64 {
		if q == nil {
			return math.NaN()
		}
		return q.V
	}
	bore, arbor, strip, inner, coils := known(in.Bore), known(in.Arbor), known(in.Strip), known(in.Inner), known(in.Coils)
	room := (bore - arbor) / 2
	size := func(m float64) string { return sizeText(in.Units, m) }
	switch {
	case bore <= arbor:
		return quantity.BadInput("bore", size(bore), "must be larger than the arbor, "+size(arbor)+": were the two swapped?")
	case strip >= room:
		return quantity.BadInput("strip", size(strip), "must be thinner than the room between arbor and wall, "+size(room)+": is it the thickness?")
	case inner >= bore:
		return quantity.BadInput("inner", size(inner), "must be smaller than the bore, "+size(bore))
	case inner <= arbor:
		return quantity.BadInput("inner", size(inner), "must be larger than the arbor, "+size(arbor)+": is the spring run down?")
	case 2*coils*strip >= bore:
		return quantity.BadInput("coils", coils, "so many coils of this strip reach past the middle of the barrel: count again")
	}
	if err := in.checkFree(); err != nil {
		return err
	}
	return in.checkSettings()
}

// checkFree finds a count of free coils that no released spring can have. It opens when
// it is released, so that it has fewer coils than wound tight on the arbor.
func (in Input) checkFree() error {
	if in.FreeCoils == nil || in.Bore == nil || in.Arbor == nil || in.Strip == nil || in.from() == FromNone {
		return nil
	}
	s := newBase(in).at()
	if tight := s.coilsWound(); !(in.FreeCoils.V < tight) {
		return quantity.BadInput("free coils", in.FreeCoils.V, fmt.Sprintf("this strip wound tight on the arbor has %.1f, and released it has fewer: count again", tight))
	}
	return nil
}

func (in Input) checkSettings() error {
	l := in.Limits
	switch {
	case !(l.FillLow > 0 && l.FillLow < l.FillHigh && l.FillHigh < 1):
		return quantity.BadInput("fill limits", fmt.Sprintf("%g to %g", l.FillLow, l.FillHigh), "must rise and lie between 0 and 1")
	case !(l.Modulus > 0) || !(l.ModulusU >= 0) || math.IsInf(l.Modulus+l.ModulusU, 0):
		return quantity.BadInput("modulus", fmt.Sprintf("%g Pa", l.Modulus), "must be a positive number")
	case !(l.AllowanceTurns >= 0) || math.IsInf(l.AllowanceTurns, 0):
		return quantity.BadInput("allowance", quantity.Turns(l.AllowanceTurns, -1), "must not be negative")
	case in.BarrelTurnHours != 0 && !(in.BarrelTurnHours >= leastHours && in.BarrelTurnHours <= mostHours):
		return quantity.BadInput("barrel turn", fmt.Sprintf("%g h", in.BarrelTurnHours), fmt.Sprintf("must be from %g to %g h", leastHours, mostHours))
	case in.MonteCarlo != 0 && (in.MonteCarlo < uncertainty.MinDraws || in.MonteCarlo > uncertainty.MaxDraws):
		return quantity.BadInput("draws of the Monte Carlo", in.MonteCarlo, fmt.Sprintf("must be %d to %d", uncertainty.MinDraws, uncertainty.MaxDraws))
	}
	for i, s := range in.Stock {
		if err := s.check(i, in.Units); err != nil {
			return err
		}
	}
	return nil
}

type namedInput struct {
	name  string
	q     *uncertainty.Quantity
	plain bool // a count or a torque: no unit of length
}

// check finds what no spring or barrel could measure.
func (c namedInput) check(units quantity.System) error {
	if c.q == nil {
		return nil
	}
	v, u := c.q.V, c.q.U()
	text, least, most := sizeText(units, v), leastSize, mostSize
	if c.plain {
		text, least, most = fmt.Sprint(v), leastCount, mostCount
	}
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0) || math.IsNaN(u) || math.IsInf(u, 0):
		return quantity.BadInput(c.name, v, "must be a finite number, and so must its uncertainty")
	case !(v > 0):
		return quantity.BadInput(c.name, text, "must be greater than zero")
	case v < least || v > most || u > most:
		return quantity.BadInput(c.name, v, "no spring or barrel has such a size: was the unit meant?")
	}
	return nil
}

func (in Input) named() []namedInput {
	return []namedInput{
		{"bore", in.Bore, false}, {"arbor", in.Arbor, false}, {"strip", in.Strip, false},
		{"height", in.Height, false}, {"depth", in.Depth, false}, {"length", in.Length, false},
		{"inner", in.Inner, false}, {"coils", in.Coils, true}, {"free diameter", in.FreeAcross, false},
		{"free coils", in.FreeCoils, true}, {"torque", in.Torque, true},
		{"set-up", in.SetUp, true}, {"turns of the stopwork", in.Stop, true},
		{"turns of the fusee", in.Fusee, true}, {"turns of the chain", in.Chain, true},
	}
}

// sizeText writes a bare size for an error: to a micrometre, without needless zeros.
func sizeText(u quantity.System, m float64) string {
	mm := fmt.Sprintf("%g mm", math.Round(m*1e6)/1e3)
	in := fmt.Sprintf("%g in", math.Round(m/quantity.Inch.Metres()*1e5)/1e5)
	switch u {
	case quantity.Imperial:
		return in
	case quantity.Both:
		return mm + " (" + in + ")"
	}
	return mm
}

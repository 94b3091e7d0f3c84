package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"evenbeat/analysis/spring"
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// SpringOptions is what the record doesn't hold.
type SpringOptions struct {
	Limits     spring.Limits
	Units      quantity.System
	MonteCarlo int64
	Seed       uint64
	Stock      []spring.Stock
	Hook       spring.Held // how hook and hole were found; "" where nobody looked
	// Given is the instrument that took the lengths given without uncertainty. Without a
	// name nothing is known of it.
	Given GivenBy
	// TypedLimit is the ± limit of error, metres, assumed of an outside length that
	// was typed without any: usually 0.02e-3, as of a digital caliper (DIN 862).
	TypedLimit float64
}

// GivenBy is the instrument of lengths that are given and not recorded. They share its
// errors, with each other and with what a record holds of it.
type GivenBy struct {
	Name                  string  // of its profile
	Outside, Inside, Step float64 // ± limits of error, the second for depths too, and resolution, metres; 0 if not known
}

// limit returns the limit of error for a way of measuring; 0 where it isn't known or the
// way is none of the instrument's.
func (i GivenBy) limit(w way) float64 {
	switch w {
	case way(sessions.Outside):
		return i.Outside
	case way(sessions.Inside), way(sessions.Depth):
		return i.Inside
	}
	return 0
}

// What is assumed beside TypedLimit. Inside and depth: 20 µm more (DIN 862). The
// length of a strip, laid along a rule, ±5 mm; a count of coils ±0.5, or ±0.25 where a
// fraction was given; turns of set-up, fusee and chain ±0.25, as a key's turns can be told
// by eye; a torque ±10 %: common practice, no source. What stopwork allows is its teeth.
const (
	insideMore  = 0.02e-3
	lengthLimit = 5e-3
	wholeLimit  = 0.5
	countLimit  = 0.25
	turnsLimit  = 0.25
	torqueLimit = 0.1 // of the torque itself: a weight on a lever, held level by eye
)

// springParts are the dimensions a spring's fit takes, by their names in the record
// and on the command line.
var springParts = append(sessions.SpringFinding.Dimensions(), "torque")

// Spring finds how the spring of a part ("" = barrel, or the only part that has a
// bore or strip) fits, from the clock's record and from values typed for this one
// question, which win: metres, bare counts for coils and free-coils, newton metres for
// torque.
//
// Readings of a dimension from several sessions and instruments are combined by their
// uncertainties. Those that contradict the newest are left out, and that is told first.
// Undone readings are left out, and doubtful ones too, unless there are no others, and then it is told. The session's closed-jaws readings correct what the
// same instrument measured. Readings of one instrument share its error, apart for
// outside, inside and depth.
//
// The error is a *quantity.InputError for what no spring could be.
func Spring(rec sessions.Record, part string, given map[string]quantity.Number, o SpringOptions) (spring.Result, error) {
	for name := range given {
		if !isSpringPart(name) {
			return spring.Result{}, quantity.BadInput(name, "", "no dimension of a spring or barrel has that name")
		}
	}
	tr, err := trainOf(rec.Clock)
	if err != nil {
		return spring.Result{}, err
	}
	g := gathering{rec: rec, o: o, finding: sessions.SpringFinding}
	if g.part, err = springPart(rec, part); err != nil {
		return spring.Result{}, err
	}
	in := spring.Input{
		Part: g.part, Limits: o.Limits, Units: o.Units, MonteCarlo: o.MonteCarlo, Seed: o.Seed,
		Stock: o.Stock, Hook: cmp.Or(o.Hook, hookSeen(rec, g.part)),
		End: rec.Particular(g.part, sessions.SpringEnd).Value, Direction: rec.Particular(g.part, sessions.Direction).Value,
	}
	if tr != nil {
		in.BarrelTurnHours = tr.BarrelTurnHours()
	}
	for name, to := range map[string]**uncertainty.Quantity{
		"bore": &in.Bore, "arbor": &in.Arbor, "strip": &in.Strip, "height": &in.Height, "depth": &in.Depth,
		"length": &in.Length, "inner": &in.Inner, "coils": &in.Coils, "free": &in.FreeAcross, "free-coils": &in.FreeCoils,
		"set-up": &in.SetUp, "stop-turns": &in.Stop, "fusee-turns": &in.Fusee, "chain-turns": &in.Chain, "torque": &in.Torque,
	} {
		if *to, err = g.dimension(name, given); err != nil {
			return spring.Result{}, err
		}
	}
	in.Prefer = preferred(given)
	in.Unsure, in.Notes = g.unsure, g.told()[len(g.unsure):]
	return spring.Fit(in)
}

// hookSeen returns how the hooks of barrel and arbor were found: sound only where both
// are, NotKnown where one was looked at, "" where neither was.
func hookSeen(rec sessions.Record, part string) spring.Held {
	barrel, arbor := rec.Particular(part, sessions.BarrelHook).Value, rec.Particular(part, sessions.ArborHook).Value
	switch {
	case barrel == sessions.Unsound || arbor == sessions.Unsound:
		return spring.Broken
	case barrel == sessions.Sound && arbor == sessions.Sound:
		return spring.Kept
	case barrel == sessions.Sound || arbor == sessions.Sound:
		return spring.NotKnown
	}
	return ""
}

// preferred is the way to the length that was given, where the strip's own was not.
func preferred(given map[string]quantity.Number) spring.LengthFrom {
	has := func(name string) bool { _, ok := given[name]; return ok }
	switch {
	case has("length"):
		return spring.FromLength
	case has("inner"):
		return spring.FromInner
	case has("coils"):
		return spring.FromCoils
	}
	return spring.FromNone
}

func isSpringPart(name string) bool {
	return slices.Contains(springParts, name)
}

// SpringParts lists the parts of which a bore or a strip was measured, barrel first and
// the others as they came.
func SpringParts(rec sessions.Record) []string {
	var parts []string
	for _, r := range rec.Readings {
		if r.State != sessions.Undone && !slices.Contains(parts, r.Part) &&
			(sessions.SpringFinding.Reads(r, "bore") || sessions.SpringFinding.Reads(r, "strip")) {
			parts = append(parts, r.Part)
		}
	}
	if i := slices.Index(parts, "barrel"); i > 0 {
		parts = slices.Insert(slices.Delete(parts, i, i+1), 0, "barrel")
	}
	return parts
}

// springPart finds the part that is meant.
func springPart(rec sessions.Record, part string) (string, error) {
	if part != "" {
		return part, nil
	}
	parts := SpringParts(rec)
	switch {
	case len(parts) == 0:
		return "barrel", nil
	case len(parts) == 1 || parts[0] == "barrel":
		return parts[0], nil
	}
	return "", quantity.BadInput("part", "", fmt.Sprintf("the record has springs of several parts (%s): name one with --part", strings.Join(parts, ", ")))
}

// typed returns a typed value as a quantity. Where none was stated it has the errors of
// the instrument that is named, or else the assumed limit.
func (g *gathering) typed(name string, v quantity.Number) *uncertainty.Quantity {
	var q uncertainty.Quantity
	way, by := wayOf(name, sessions.UsualKind(name)), g.o.Given
	switch limit := by.limit(way); {
	case v.Stated:
		q = uncertainty.Stated(name, v)
	case limit > 0:
		g.note(fmt.Sprintf("Lengths given without uncertainty are taken as read with the %s, %s good to %s.", by.Name, way, g.plusMinus(limit)))
		q = uncertainty.Limit(name, v.V, limit, by.Name+", "+string(way), uncertainty.CauseInstrument)
		q.Sources = append(q.Sources, uncertainty.Source{U: by.Step / math.Sqrt(12), Shape: uncertainty.Rectangular, Cause: uncertainty.CauseResolution})
	default:
		q = uncertainty.Limit(name, v.V, g.assumed(way, v.V, g.o.TypedLimit), sessions.TypedInstrument+", "+string(way), uncertainty.CauseAssumed)
	}
	return &q
}

// assumed returns the limit of error taken for a value v that comes without any, and
// remembers to tell it; typed is the limit taken for outside lengths.
func (g *gathering) assumed(w way, v, typed float64) float64 {
	switch w {
	case wayTeeth: // counted one by one
		return 0
	case wayTurns:
		g.note("Turns of set-up, fusee and chain are taken as good to ±0.25.")
		return turnsLimit
	case wayTorque:
		g.note("The measured torque is taken as good to ±10 %.")
		return torqueLimit * v
	case wayCoils:
		if v == math.Trunc(v) {
			g.note("A whole count of coils is taken as good to ±0.5; a count to the quarter of a turn is better.")
			return wholeLimit
		}
		g.note("A count of coils with a fraction is taken as good to ±0.25.")
		return countLimit
	case wayRule:
		g.note("A length laid along a rule is taken as good to " + g.plusMinus(lengthLimit) + ".")
		return max(lengthLimit, typed)
	case way(sessions.Inside), way(sessions.Depth):
		g.note("Inside lengths and depths typed without uncertainty are taken as good to " + g.plusMinus(typed+insideMore) + " (a setting, and " + g.plusMinus(insideMore) + " more inside).")
		return typed + insideMore
	}
	g.note("Lengths typed without uncertainty are taken as good to " + g.plusMinus(typed) + " (a setting).")
	return typed
}

func (g *gathering) plusMinus(m float64) string {
	if g.o.Units == quantity.Imperial {
		return fmt.Sprintf("±%.2g in", m/quantity.Inch.Metres())
	}
	return fmt.Sprintf("±%g mm", math.Round(m*1e6)/1e3)
}

package analysis

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"evenbeat/analysis/parts"
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// of moves the readings of the last session to another part.
func (b *bench) of(part string) *bench {
	for i := range b.rec.Readings {
		if b.rec.Readings[i].SessionID == b.session {
			b.rec.Readings[i].Part = part
		}
	}
	return b
}

// count adds a bare count, as the plans type it.
func (b *bench) count(dimension string, n float64) *bench {
	b.take(dimension, sessions.TypedInstrument, 0, n/mm)
	b.rec.Readings[len(b.rec.Readings)-1].Step = 0
	return b
}

// Sums by hand: 2.10 mm hole on a 2.00 mm pivot is 5 %; the hole read 2.00 and 2.20
// across is 0.20 mm out of round. Limits: common practice, no source.
func TestPivotFromRecord(t *testing.T) {
	b := newBench("")
	b.sit().take("zero", "micrometer", 0.004, 0).take("shoulder", "micrometer", 0.004, 2.0, 2.0).take("tip", "micrometer", 0.004, 2.0, 2.0).of("pivot")
	b.sit().take("zero", "pins", 0.01, 0).take("hole", "pins", 0.01, 2.10, 2.10, 2.10, 2.10).of("bushing")
	r, err := Pivot(b.rec, "pivot", "bushing", usualPartsOptions())
	if err != nil || r.Verdict != parts.Good {
		t.Errorf("a good pivot: %+v, %v", r, err)
	}
	b.sit().take("hole", "pins", 0.01, 2.00, 2.20, 2.00, 2.20).of("bushing")
	r, err = Pivot(b.rec, "pivot", "bushing", usualPartsOptions())
	if err != nil || r.Verdict != parts.Bad || !told(r.Reasons, "differ by 0.200 ± 0.008 mm") {
		t.Errorf("an oval hole: %q %q, %v", r.Verdict, r.Reasons, err)
	}
}

// By hand: module 0.5, 96 teeth 49.35 mm, 8 leaves 4.8 mm, centres 26 mm.
func TestWheelFromRecord(t *testing.T) {
	b := newBench("").sit().take("zero", "caliper", 0.02, 0).take("wheel", "caliper", 0.02, 49.35, 49.35, 49.35).
		take("pinion", "caliper", 0.02, 4.80, 4.80).take("centres", sessions.TypedInstrument, 0, 26).count("teeth", 96).count("leaves", 8).of("wheel")
	o := usualPartsOptions()
	o.Wheel.ModuleApart = 0.06
	r, err := Wheel(b.rec, "wheel", o)
	if err != nil || r.Verdict != parts.Good || !told(r.Reasons, "that far apart") {
		t.Errorf("a good pair: %q %q, %v", r.Verdict, r.Reasons, err)
	}
	b.sit().count("teeth", -3).of("wheel")
	if _, err := Wheel(b.rec, "wheel", o); err == nil {
		t.Error("a wheel of −3 teeth was taken")
	} else if _, ok := errors.AsType[*quantity.InputError](err); !ok {
		t.Errorf("%v is no *quantity.InputError", err)
	}
}

func TestPendulumFromRecord(t *testing.T) {
	b := newBench("96/8,64/8,60/8,30").sit().take("length", sessions.TypedInstrument, 0, 990).of("pendulum")
	r, err := Pendulum(b.rec, "pendulum", usualPartsOptions())
	if err != nil || r.Verdict != parts.Good {
		t.Errorf("a seconds pendulum: %+v, %v", r, err)
	}
	r, err = Pendulum(sessions.Record{}, "pendulum", usualPartsOptions())
	if err != nil || r.Verdict != parts.CannotTell || len(r.Next) != 2 {
		t.Errorf("nothing known: %+v, %v", r, err)
	}
}

func TestCountedTeeth(t *testing.T) {
	if got := counted(nil); got != 0 {
		t.Errorf("unknown: %d", got)
	}
	q := uncertainty.Exact("teeth", 95.7)
	if got := counted(&q); got != 96 {
		t.Errorf("95.7: %d", got)
	}
}

// What is assumed of typed sizes holds for pivot and bush alike, and is told once.
func TestNotesAreToldOnce(t *testing.T) {
	b := newBench("").sit().take("shoulder", sessions.TypedInstrument, 0, 1.5).take("tip", sessions.TypedInstrument, 0, 1.49).take("hole", sessions.TypedInstrument, 0, 1.58).take("plate", sessions.TypedInstrument, 0, 2)
	r, err := Pivot(b.rec, "barrel", "barrel", usualPartsOptions())
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(strings.Join(r.Reasons, " "), "Lengths typed without uncertainty"); n != 1 {
		t.Errorf("told %d times: %q", n, r.Reasons)
	}
}

// taken says how the readings of a dimension in the last session were taken.
func (b *bench) taken(dimension string, kind sessions.Kind) *bench {
	for i := range b.rec.Readings {
		if r := &b.rec.Readings[i]; r.SessionID == b.session && r.Dimension == dimension {
			r.Kind = kind
		}
	}
	return b
}

// A hole that was measured by the outside jaws, over a plug say, shares the limit of
// the pivot measured by the same jaws: it drops out of the clearance, and two steps of
// the display remain, 0.01 mm × √2/√12 = 4.08 µm. By the inside jaws it has a limit of
// its own: √(2 × (20/√3)² + 4.08²) = 16.83 µm. By hand.
func TestLimitGoesByTheJaws(t *testing.T) {
	for kind, want := range map[sessions.Kind]float64{sessions.Outside: 4.082e-6, sessions.Inside: 16.83e-6} {
		b := newBench("").sit().take("shoulder", "caliper", 0.02, 2.0).take("hole", "caliper", 0.02, 2.1).of("pivot").taken("hole", kind)
		r, err := Pivot(b.rec, "pivot", "pivot", usualPartsOptions())
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(r.Figures, func(f parts.Figure) bool { return f.Name == "clearance" })
		if u := r.Figures[i].Value.U; math.Abs(u-want) > 0.005e-6 {
			t.Errorf("hole by the %s jaws: u %.3g of the clearance, want %.3g", kind, u, want)
		}
	}
}

// The kind decides; the name only where the kind leaves it open.
func TestWayOf(t *testing.T) {
	for _, c := range []struct {
		dimension string
		kind      sessions.Kind
		want      way
	}{
		{"hole", sessions.Outside, "outside"}, {"strip", sessions.Inside, "inside"}, {"length", sessions.Typed, wayRule},
		{"length", sessions.Outside, "outside"}, {"centres", sessions.Typed, "typed"}, {"teeth", sessions.Count, wayTeeth},
		{"coils", sessions.Count, wayCoils}, {"torque", sessions.Outside, wayTorque},
	} {
		if got := wayOf(c.dimension, c.kind); got != c.want {
			t.Errorf("%s, %s: taken %s, want %s", c.dimension, c.kind, got, c.want)
		}
	}
}

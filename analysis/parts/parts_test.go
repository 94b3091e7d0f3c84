package parts

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"evenbeat/analysis/pendulum"
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

const mm = 1e-3

var usualPivotLimits = PivotLimits{ClearanceLow: 0.02, ClearanceHigh: 0.10, OutOfRound: 0.02e-3, Taper: 0.02e-3}

func limit(v, a float64) *uncertainty.Quantity {
	q := uncertainty.Limit("x", v*mm, a*mm, "", uncertainty.CauseInstrument)
	return &q
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.8g, want %.8g ± %.2g", what, got, want, tolerance)
	}
}

func figure(t *testing.T, r Result, name string) Figure {
	t.Helper()
	for _, f := range r.Figures {
		if f.Name == name {
			return f
		}
	}
	t.Fatalf("no figure %q in %+v", name, r.Figures)
	return Figure{}
}

func says(lines []string, part string) bool { return strings.Contains(strings.Join(lines, "\n"), part) }

// Sums by hand; limits are common practice, no source.
func TestPivotInBush(t *testing.T) {
	for _, c := range []struct {
		name          string
		hole, a, span float64
		want          Verdict
		next          string
	}{
		{"good", 2.10, 0.004, 0.005, Good, ""},
		{"wide", 2.40, 0.004, 0.005, Bad, "Bush the hole to the pivot"},
		{"tight", 2.01, 0.004, 0.005, Bad, "smoothing broach"},
		{"oval", 2.10, 0.004, 0.10, Bad, "on its old centre"},
		{"caliper", 2.19, 0.04, 0.005, CannotTell, "with a micrometer and pin gauges"},
	} {
		r, err := PivotInBush(Pivot{
			Shoulder: limit(2, 0.004), Tip: limit(2, 0.004), Hole: limit(c.hole, c.a),
			HoleSpan: limit(c.span, 0.004), Limits: usualPivotLimits,
		})
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.name+": clearance", figure(t, r, "clearance").Value.V, (c.hole-2)*mm, 1e-12)
		near(t, c.name+": share", figure(t, r, "clearance over pivot").Value.V, (c.hole-2)/2, 1e-9)
		if r.Verdict != c.want || !says(r.Next, c.next) || len(r.Cautions) == 0 {
			t.Errorf("%s: %q, next %q", c.name, r.Verdict, r.Next)
		}
	}
	r, err := PivotInBush(Pivot{Shoulder: limit(2, 0.004), Limits: usualPivotLimits})
	if err != nil || r.Verdict != CannotTell || !says(r.Next, "Measure the hole") {
		t.Errorf("without a hole: %+v, %v", r, err)
	}
}

// Two equal readings of a display of 0.01 mm: the taper is 0 ± 0.008 mm (0.01/√6 × 1.96),
// though the instrument's own error drops out. By hand: 0.1 mm in a plate of 2.5 mm is
// atan(0.04), 2.29°; 3.2 mm of pivot stand 0.7 mm out of it.
func TestPivotLengthwise(t *testing.T) {
	jaw := func(v float64) *uncertainty.Quantity {
		q := uncertainty.Limit("x", v*mm, 0.02*mm, "outside", uncertainty.CauseInstrument)
		return &q
	}
	p := Pivot{Shoulder: jaw(2), Tip: jaw(2), Hole: limit(2.1, 0.004), Reach: limit(3.2, 0.04), Plate: limit(2.5, 0.02), Step: 0.01 * mm, Limits: usualPivotLimits}
	r, err := PivotInBush(p)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "taper ±, mm", figure(t, r, "taper of the pivot").Value.Half95()/mm, 0.0080, 5e-5)
	near(t, "lean, °", figure(t, r, "lean in the hole").Value.V, 2.2906, 5e-4)
	near(t, "beyond the plate, mm", figure(t, r, "pivot longer than the plate").Value.V/mm, 0.7, 1e-9)
	if !says(r.Reasons, "can lean by 2.29 ± 0.45° in") || !says(r.Reasons, "With more end shake than that") || !says(r.Reasons, "No taper of the pivot can be told") || len(r.Matters) > 0 {
		t.Errorf("reasons %q, of which %q matter", r.Reasons, r.Matters)
	}
	// 0.02 ± 0.03 mm may be no way through the plate at all, and 0.3 mm less is none.
	for reach, want := range map[float64]string{2.52: "reaches through the plate can't be told", 2.2: "shorter than the plate"} {
		q := p
		q.Reach = limit(reach, 0.05)
		if r, err := PivotInBush(q); err != nil || !says(r.Reasons, want) {
			t.Errorf("a pivot of %g mm: %q, %v", reach, r.Reasons, err)
		}
	}
	// The bad figure decides, and its step comes before that for an undecided one.
	p.HoleSpan, p.Hole = limit(0.1, 0.004), limit(2.19, 0.04)
	if r, err = PivotInBush(p); err != nil || len(r.Next) != 2 || !says(r.Next[:1], "Bush the hole, on its old centre") {
		t.Errorf("next %q, %v", r.Next, err)
	}
}

// By hand: a wheel of 96 teeth and module 0.5 is (96 + 2.7)·0.5 = 49.35 mm over the
// tips, a pinion of 8 is (8 + 1.6)·0.5 = 4.8 mm, centres (96 + 8)·0.5/2 = 26 mm.
func TestWheelAndPinion(t *testing.T) {
	good := Wheel{Over: limit(49.35, 0.02), Teeth: 96, PinionOver: limit(4.8, 0.004), Leaves: 8, Centres: limit(26, 0.02), Limits: WheelLimits{ModuleApart: 0.06}}
	r, err := WheelAndPinion(good)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "module of the wheel, mm", figure(t, r, "module of the wheel").Value.V/mm, 0.5, 1e-12)
	near(t, "module of the pinion, mm", figure(t, r, "module of the pinion").Value.V/mm, 0.5, 1e-12)
	near(t, "centres, mm", figure(t, r, "distance of centres asked for").Value.V/mm, 26, 1e-9)
	if r.Verdict != Good || !says(r.Reasons, "that far apart") {
		t.Errorf("a good pair: %q %q", r.Verdict, r.Reasons)
	}
	other := good
	other.PinionOver, other.Centres = limit(5.8, 0.004), limit(26.5, 0.02)
	if r, err = WheelAndPinion(other); err != nil || r.Verdict != Bad || !says(r.Reasons, "further apart") {
		t.Errorf("a pinion of another module: %+v, %v", r, err)
	}
	if r, err = WheelAndPinion(Wheel{Over: limit(49, 0.02)}); err != nil || r.Verdict != CannotTell || !says(r.Next, "Count the teeth") {
		t.Errorf("without counts: %+v, %v", r, err)
	}
}

// The seconds pendulum of 51.5° is 994.167 mm (GRS80, from memory, recomputed).
func TestPendulumToTrain(t *testing.T) {
	g, err := pendulum.Gravity(51.5, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		length float64
		want   Verdict
		says   string
	}{
		{994, Good, "as long as it should be"}, {1006.8, Good, "the clock would lose 540 ± 200 s/day"}, {800, Bad, "shorter: the clock would gain"},
		{1200, Bad, "longer: the clock would lose"}, {1043, CannotTell, "train needs a pendulum"},
	} {
		r, err := PendulumToTrain(Pendulum{Length: limit(c.length, 5), Beat: 1, Gravity: g})
		if err != nil {
			t.Fatal(err)
		}
		near(t, "asked for, mm", figure(t, r, "length asked for").Value.V/mm, 994.167, 5e-4)
		if r.Verdict != c.want || !says(r.Reasons, c.says) {
			t.Errorf("%v mm: %q %q", c.length, r.Verdict, r.Reasons)
		}
	}
	// 12.633 mm over: 43200 · 12.633/994.167 is 549 s/day to first order; 0.8 mm a turn.
	for _, c := range []struct {
		threads *uncertainty.Quantity
		pitch   float64
		want    string
	}{
		{nil, 0, "See that the thread of the nut reaches 12.6 ± 4.8 mm up"},
		{nil, 0.8 * mm, "Turn the nut up by 15.8 ± 5.9 turns, which is 12.6 ± 4.8 mm, then time the clock. See that the thread is long enough"},
		{limit(8, 0.02), 0, "15.8 ± 5.9 turns, which is 12.6 ± 4.8 mm, then time the clock. See that the thread is long enough"},
		{limit(15, 0.02), 0.8 * mm, "8.4 ± 3.2 turns, which is 12.6 ± 4.8 mm, then time the clock. The ten threads that were measured are enough"},
	} {
		r, err := PendulumToTrain(Pendulum{Length: limit(1006.8, 5), Beat: 1, Gravity: g, Threads: c.threads, Pitch: c.pitch})
		if err != nil || !says(r.Next, c.want) {
			t.Errorf("%v, %v: %q, want %q", err, c.pitch, r.Next, c.want)
		}
		near(t, "rate, s/day", figure(t, r, "rate by this length (+ gains)").Value.V, 86400*(math.Sqrt(994.167/1006.8)-1), 0.05)
	}
	// A ball of 200 mm at 1 m swings as at 1 + 0.4·0.1² = 1.004 m (Derham p. 74).
	r, err := PendulumToTrain(Pendulum{Length: limit(1000, 1), Bob: limit(200, 1), Beat: 1, Gravity: g})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "with a ball, mm", figure(t, r, "effective length").Value.V/mm, 1004, 1e-9)
}

func TestRefuses(t *testing.T) {
	bad := limit(-1, 0)
	for name, call := range map[string]func() error{
		"shoulder": func() error { _, err := PivotInBush(Pivot{Shoulder: bad}); return err },
		"hole":     func() error { _, err := PivotInBush(Pivot{Hole: limit(math.NaN(), 0)}); return err },
		"wheel":    func() error { _, err := WheelAndPinion(Wheel{Over: bad}); return err },
		"teeth":    func() error { _, err := WheelAndPinion(Wheel{Teeth: -1}); return err },
		"length":   func() error { _, err := PendulumToTrain(Pendulum{Length: limit(math.Inf(1), 0)}); return err },
		"bob": func() error {
			_, err := PendulumToTrain(Pendulum{Length: limit(100, 0), Bob: limit(300, 0)})
			return err
		},
	} {
		e, ok := errors.AsType[*quantity.InputError](call())
		if !ok || !strings.HasPrefix(e.Error(), name) {
			t.Errorf("%s: %v", name, call())
		}
	}
}

// Text and sheet name the figures as a clockmaker does. The names in JSON stay as they are.
func TestLabels(t *testing.T) {
	for name, want := range map[string]string{
		"length asked for": "pendulum length required", "modules apart": "pinion's module over the wheel's", "clearance": "clearance",
	} {
		f := Figure{Name: name}
		text, err := json.Marshal(f)
		if f.Label() != want || err != nil || !strings.Contains(string(text), `"name":"`+name+`"`) {
			t.Errorf("%s is %q, in JSON %s, %v", name, f.Label(), text, err)
		}
	}
}

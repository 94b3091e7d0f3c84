package spring

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"evenbeat/analysis/uncertainty"
)

// Worked strip of tokaibane.com, flat spiral springs: E 2.06e5 N/mm², b 10, t 1.0, L
// 1200 mm, one turn (inputs seen, results recomputed): 143.056 N·mm/rad, 898.84
// N·mm.
func TestTorqueWorkedStrip(t *testing.T) {
	k := TorquePerRadian(2.06e11, 10*mm, 1*mm, 1200*mm)
	within(t, "stiffness, N·mm/rad", k*1e3, 143.056, 5e-4)
	m := k * 2 * math.Pi
	within(t, "torque of one turn, N·mm", m*1e3, 898.84, 5e-3)
}

// Nominal stress E·t/(d + t) at a third-rule arbor is 5 to 7 GPa, far above the 1.2
// to 1.7 GPa of hardened strip (EN 10132-4, C67S, as listed by akrostal.pl).
func TestStrengthIsTold(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1700)
	height := uncertainty.Exact("height", 20*mm)
	in.Height, in.BarrelTurnHours = &height, 24
	r := mustFit(t, in)
	within(t, "stress, GPa", r.Stress.V/1e9, 206*0.4/15.4, 1e-6)
	// By hand: k = 2.06e11·0.02·(0.4e-3)³/(12·1.7) = 0.0129255 N·m/rad.
	within(t, "torque, N·m", r.TorqueFull.V, 0.0129255*2*math.Pi*r.Turns.V, 1e-5)
	within(t, "energy, J", r.Energy.V, 0.0129255/2*math.Pow(2*math.Pi*r.Turns.V, 2), 1e-3)
	within(t, "going, h", r.GoingHours.V, 24*r.Turns.V, 1e-9)
	// Seven turns in a week: the torque falls in the proportion of the turns left.
	within(t, "ratio", r.TorqueRatio.V, r.Turns.V/(r.Turns.V-7), 1e-6)
	within(t, "J in the caution", 20, r.Energy.V, 0.5)
	for name, e := range map[string]*Estimate{"torque": r.TorqueFull, "energy": r.Energy, "torque at the end": r.TorqueEnd} {
		if text, err := json.Marshal(e); err != nil || !strings.HasSuffix(string(text), `,"bound":"at least"}`) || !strings.HasPrefix(e.Text("J"), "at least ") {
			t.Errorf("%s from the run-down state: %s, %q, %v", name, text, e.Text("J"), err)
		}
	}
	if r.TorqueRatio.Bound != AtMost || !has(r.Reasons, "the torque is at most ") {
		t.Errorf("ratio %q, reasons %q", r.TorqueRatio.Text(""), r.Reasons)
	}
	if !has(r.Cautions, "holds at least 20 J, perhaps twice that.") || !has(r.Reasons, "never a verdict") {
		t.Errorf("energy or nominal stress not told: %q %q", r.Cautions, r.Reasons)
	}
	free := uncertainty.Exact("free coils", 5)
	in.FreeCoils = &free
	with := mustFit(t, in)
	if text, err := json.Marshal(with.Energy); err != nil || with.Energy.Bound != "" || strings.Contains(string(text), "bound") || has(with.Cautions, "at least") {
		t.Errorf("with the free form known: %s, %v, %q", text, err, with.Cautions)
	}
	within(t, "torque from 5 free coils", with.TorqueFull.V, 0.0129255*2*math.Pi*(with.CoilsWound.V-5), 1e-5)
}

// Stopwork takes its turns from the middle: 6 of N turns run from (N + 6)/2 to
// (N − 6)/2 from the run-down state, and the torque with them.
func TestStopworkAndAllowance(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1700)
	height, stop := uncertainty.Exact("height", 20*mm), uncertainty.Exact("stop", 6)
	in.Height, in.BarrelTurnHours, in.Stop = &height, 24, &stop
	r := mustFit(t, in)
	within(t, "hours", r.GoingHours.V, 6*24, 1e-9)
	within(t, "ratio", r.TorqueRatio.V, (r.Turns.V+6)/(r.Turns.V-6), 1e-6)
	in.Stop, in.Limits.AllowanceTurns = nil, 0.5
	r = mustFit(t, in)
	within(t, "hours less half a turn", r.GoingHours.V, 24*(r.Turns.V-0.5), 1e-9)
	if !has(r.Reasons, "enough for one day: it takes 1 turn ") && !has(r.Reasons, "enough for 8 days: it takes 8 turns ") {
		t.Errorf("runs are not told: %q", r.Reasons)
	}
	if got := runReasons(r.Runs[:1]); len(got) != 1 || !strings.HasPrefix(got[0], "That is enough for one day: it takes 1 turn ") {
		t.Errorf("one day at a turn a day: %q", got)
	}
	// 8 days take 8 turns, of 8.83 less 0.5 there are 0.33 to spare.
	within(t, "reserve of 8 days", r.Runs[1].Reserve.V, r.Turns.V-8.5, 1e-9)
}

// A measured torque against the estimate: k = 0.0129255 N·m/rad by hand, coils
// wound less free.
func TestMeasuredTorque(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1700)
	q := func(v float64) *uncertainty.Quantity { c := uncertainty.Exact("x", v); return &c }
	in.Height, in.FreeCoils = q(20*mm), q(5)
	want := mustFit(t, in).TorqueFull.V
	for _, c := range []struct {
		times float64
		free  bool
		says  string
	}{
		{1, true, "they agree"}, {1.4, true, "40 % stiffer than this strip should be"},
		{0.7, true, "30 % weaker"}, {2, false, "count the coils of the released spring"},
	} {
		in.Torque = q(want * c.times)
		if in.FreeCoils = q(5); !c.free {
			in.FreeCoils = nil
		}
		if r := mustFit(t, in); !has(r.Reasons, c.says) {
			t.Errorf("%g times: %q not in %q", c.times, c.says, r.Reasons)
		}
	}
}

// By the closed form the strip of 45, 15, 0.40, 1600 mm has 21.559 coils wound and
// 12.766 run down. A spring that lies in 16 coils when released has come to rest 3.2
// turns before it is run down; with E·b·t³/(12L) = 0.0137333 N·m/rad it holds
// k(2π·5.559)²/2 = 8.3772 J, and no torque at the end.
func TestSpringThatRestsEarly(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1600)
	height, free := uncertainty.Exact("height", 20*mm), uncertainty.Limit("free coils", 16, 0.25, "", "")
	in.Height, in.FreeCoils = &height, &free
	r := mustFit(t, in)
	within(t, "energy, J", r.Energy.V, 8.3772, 0.0005)
	within(t, "torque, N·m", r.TorqueFull.V, 0.0137333*2*math.Pi*5.55883, 1e-5)
	if r.TorqueRatio != nil || !has(r.Reasons, "it drives nothing in its last 3.2 turns") {
		t.Errorf("ratio %v, reasons %q", r.TorqueRatio, r.Reasons)
	}
	free.V = 5
	if r := mustFit(t, in); has(r.Reasons, "drive nothing") {
		t.Errorf("a spring that presses on the wall is told to rest early: %q", r.Reasons)
	}
}

// The ratio of torques names the run it is of: all the turns where no train says how
// many a week takes, or where a week takes more than there are.
func TestRatioNamesItsRun(t *testing.T) {
	in := millimetres(45, 15, 0.40, 1600)
	height, free := uncertainty.Exact("height", 20*mm), uncertainty.Exact("free coils", 5)
	in.Height, in.FreeCoils = &height, &free
	for _, c := range []struct {
		hours, stop float64
		want        string
	}{
		{0, 0, "Fully wound, the torque is"},
		{12, 0, "Fully wound, the torque is"}, // a week takes 14 of 8.8 turns
		{48, 0, "At the start of a week"},
		{48, 4, "the run that the stopwork allows"},
		{48, 20, "At the start of a week"}, // stopwork beyond the spring's turns stops nothing
	} {
		if in.BarrelTurnHours, in.Stop = c.hours, nil; c.stop > 0 {
			in.Stop = typed("stop", c.stop, 0, "")
		}
		if r := mustFit(t, in); !has(r.Reasons, c.want) {
			t.Errorf("turn in %g h, stopwork %g: %q", c.hours, c.stop, r.Reasons)
		}
	}
}

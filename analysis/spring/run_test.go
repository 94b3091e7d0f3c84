package spring

import (
	"math"
	"testing"
)

// windable is a spring of 8.843 turns that drives a first arbor of so many hours a turn.
func windable(t *testing.T, hours float64) (in Input, turns float64) {
	in = millimetres(45, 15, 0.40, 1700)
	in.Height, in.BarrelTurnHours = typed("height", 20*mm, 0, ""), hours
	turns = mustFit(t, in).Turns.V
	within(t, "turns", turns, 8.843, 0.001)
	return in, turns
}

// Set-up turns stay in the spring, and stopwork takes its own above them: six turns after
// one run from the seventh down to the first, and the torque with them.
func TestSetUpComesBeforeTheRun(t *testing.T) {
	in, turns := windable(t, 24)
	in.SetUp = typed("set-up", 1, 0.25, "")
	r := mustFit(t, in)
	within(t, "hours after the set-up", r.GoingHours.V, 24*(turns-1), 1e-9)
	within(t, "their interval", r.GoingHours.Half95(), 24*0.95*0.25, 1e-6)
	if !has(r.Reasons, "since 1.00 ± 0.24 turns of set-up stay in the spring") || !has(r.Cautions, "set-up stays when the clock has run down") {
		t.Errorf("reasons %q, cautions %q", r.Reasons, r.Cautions)
	}
	in.Stop = typed("stop", 6, 0, "")
	r = mustFit(t, in)
	within(t, "hours by the stopwork", r.GoingHours.V, 24*6, 1e-9)
	within(t, "their interval", r.GoingHours.Half95(), 0, 0)
	within(t, "ratio", r.TorqueRatio.V, 7, 1e-6)
	if !has(r.Reasons, "The stopwork allows 6 turns, after 1.00 ± 0.24 turns of set-up") || has(r.Matters, "fully wound") {
		t.Errorf("reasons %q", r.Reasons)
	}
}

// A spring that is fully wound before its stopwork acts gives its own turns. Where that
// can't be told, the hours hold both answers.
func TestStopworkBeyondTheSpring(t *testing.T) {
	in, turns := windable(t, 24)
	in.SetUp, in.Stop = typed("set-up", 2, 0.25, ""), typed("stop", 8, 0, "")
	r := mustFit(t, in)
	within(t, "hours", r.GoingHours.V, 24*(turns-2), 1e-9)
	if !has(r.Matters, "The spring is fully wound before the stopwork stops the winding") {
		t.Errorf("not told: %q", r.Matters)
	}
	in.SetUp.V = turns - 8 + 0.1
	r = mustFit(t, in)
	if r.GoingHours.High95() < 24*8-1e-9 || r.GoingHours.Low95() > 24*(8-0.1-0.95*0.25)+1e-9 {
		t.Errorf("%v h doesn't hold what may be", *r.GoingHours)
	}
	if !has(r.Matters, "can't be told") {
		t.Errorf("the doubt isn't told: %q", r.Matters)
	}
}

// With a fusee its own turns give the hours. They are all there where the spring has the
// barrel's turns for them, and else at most the share of the chain that it has: the true
// turns of a cone are fewer.
func TestFuseeGivesTheHours(t *testing.T) {
	in, turns := windable(t, 12)
	in.SetUp, in.Fusee = typed("set-up", 1, 0, ""), typed("fusee", 16, 0.25, "")
	r := mustFit(t, in)
	within(t, "hours", r.GoingHours.V, 12*16, 1e-9)
	if r.GoingHours.Bound != AtMost || len(r.Runs) > 0 || !has(r.Next, "--chain-turns") {
		t.Errorf("bound %q, runs %v, next %q", r.GoingHours.Bound, r.Runs, r.Next)
	}
	in.Chain = typed("chain", 6, 0.25, "")
	r = mustFit(t, in)
	within(t, "hours", r.GoingHours.V, 12*16, 1e-9)
	within(t, "their interval", r.GoingHours.Half95(), 12*0.95*0.25, 1e-9)
	within(t, "ratio", r.TorqueRatio.V, 7, 1e-6)
	if !has(r.Reasons, "The fusee has to even that out") || !has(r.Reasons, "the fusee makes 1 turn in 12 h") || r.GoingHours.Bound != "" || has(r.Next, "--chain-turns") || has(r.Reasons, "h of going") {
		t.Errorf("reasons %q, next %q", r.Reasons, r.Next)
	}
	in.Chain = typed("chain", 10, 0, "")
	r = mustFit(t, in)
	within(t, "hours at most", r.GoingHours.V, 12*16*(turns-1)/10, 1e-9)
	if r.GoingHours.Bound != AtMost || !has(r.Matters, "fully wound before the chain is all on the fusee") {
		t.Errorf("bound %q, told %q", r.GoingHours.Bound, r.Matters)
	}
	// A cone of radii from 30 to 15 mm: n of its 16 turns take 30n − 15n²/32 of the chain, of
	// 360 in all.
	if n := 32 * (1 - math.Sqrt(1-360*(turns-1)/10/480)); n > r.GoingHours.V/12 || n < 10 {
		t.Errorf("a cone makes %.2f turns, at most %.2f are told", n, r.GoingHours.V/12)
	}
}

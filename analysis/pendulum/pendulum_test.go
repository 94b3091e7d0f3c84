package pendulum

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"evenbeat/devices/quantity"
)

const inch = 0.0254

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.8g, want %.8g ± %.2g", what, got, want, tolerance)
	}
}

// standard returns the gravity under which a pendulum of so many inches beats
// seconds: old books print that length instead of g.
func standard(inches float64) quantity.Value {
	return quantity.Value{V: math.Pi * math.Pi * inches * inch}
}

// GRS80 normal gravity (Moritz, from memory) and the seconds pendulum it makes.
func TestGravityGRS80(t *testing.T) {
	for _, c := range []struct{ latitude, g, mm float64 }{
		{0, 9.7803268, 990.954}, {45, 9.8061992, 993.576}, {51.5, 9.8120350, 994.167}, {90, 9.8321864, 996.209},
	} {
		g, err := Gravity(c.latitude, 0)
		if err != nil {
			t.Fatal(err)
		}
		within(t, fmt.Sprintf("g at %v°", c.latitude), g.V, c.g, 5e-8)
		l, err := Length(1, g)
		if err != nil {
			t.Fatal(err)
		}
		within(t, fmt.Sprintf("seconds pendulum at %v°, mm", c.latitude), l.V*1e3, c.mm, 5e-4)
	}
}

// The Act's seconds pendulum in London, 39.1393 in (Beckett p. 39; 994.138 mm), lies
// 0.029 mm or 1.3 s/day below GRS80, inside the uncertainty claimed. An English
// pendulum loses at the equator 2¼ min/day as Beckett prints it, 139.7 s by GRS80.
func TestGravityAgainstPrintedPendulums(t *testing.T) {
	london, err := Gravity(51.5, 0)
	if err != nil {
		t.Fatal(err)
	}
	l, err := Length(1, london)
	if err != nil {
		t.Fatal(err)
	}
	act := 39.1393 * inch
	within(t, "the Act's pendulum, mm", act*1e3, 994.138, 5e-4)
	within(t, "GRS80 less the Act, s/day", halfDay*(l.V-act)/act, 1.3, 0.05)
	if !l.Covers(act) {
		t.Errorf("%s does not hold the Act's %.3f mm", l.Scale(1e3).Text("mm"), act*1e3)
	}
	equator, err := Gravity(0, 0)
	if err != nil {
		t.Fatal(err)
	}
	there, err := Length(1, equator)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "loss at the equator, s/day", 86400*(1-math.Sqrt(there.V/l.V)), 139.7, 0.05)
	if all := GravityAnywhere(); !all.Covers(equator.V) || !all.Covers(9.8321864) {
		t.Errorf("gravity anywhere, %s, leaves out equator or pole", all.Text("m/s²"))
	}
}

// Lengths by beat at 39.14 in (Beckett p. 36), recomputed digits; and for beat rates.
func TestLengthsByBeat(t *testing.T) {
	g := standard(39.14)
	for _, c := range []struct{ beat, inches float64 }{
		{4, 626.24}, {3, 352.26}, {2.5, 244.63}, {2, 156.56}, {1.5, 88.07}, {1.25, 61.16}, {1, 39.14},
		{0.75, 22.02}, {2. / 3, 17.40}, {0.5, 9.785},
	} {
		l, err := Length(c.beat, g)
		if err != nil {
			t.Fatal(err)
		}
		within(t, fmt.Sprintf("length for %v s, in", c.beat), l.V/inch, c.inches, 5.1e-3)
	}
	for _, c := range []struct{ rate, mm float64 }{
		{3600, 994.156}, {7200, 248.539}, {9000, 159.065}, {10080, 126.806}, {14400, 62.135}, {18000, 39.766},
	} {
		l, err := Length(3600/c.rate, g)
		if err != nil {
			t.Fatal(err)
		}
		within(t, fmt.Sprintf("length for %v beats/h, mm", c.rate), l.V*1e3, c.mm, 5e-4)
	}
	// Sidereal seconds: printed 38.87 in (Beckett p. 36), but 39.1393·0.99727² = 38.926.
	l, err := Length(0.99727, standard(39.1393))
	if err != nil {
		t.Fatal(err)
	}
	within(t, "sidereal seconds pendulum, in", l.V/inch, 38.926, 5e-4)
}

// Vibrations a minute by length, standard 39.2 in (Derham p. 78). The columns are
// printed to a tenth, some cut and some rounded: 6 in is 153.36, printed 153.3.
func TestBeatsByLengthDerham(t *testing.T) {
	printed := []float64{375.7, 265.6, 216.9, 187.8, 168.0, 153.3, 142.0, 132.8, 125.2, 118.8}
	for i, want := range printed {
		second, err := Length(1, standard(39.2))
		if err != nil {
			t.Fatal(err)
		}
		got := 60 * math.Sqrt(second.V/(float64(i+1)*inch))
		within(t, fmt.Sprintf("beats a minute at %d in", i+1), got, want, 0.1)
	}
	// Worked on p. 76: 153 a minute is 6.03 in.
	l, err := Length(60./153, standard(39.2))
	if err != nil {
		t.Fatal(err)
	}
	within(t, "length for 153 a minute, in", l.V/inch, 6.03, 5e-3)
}

// Goodrich and Beckett p. 50: 18 threads to the inch on a seconds pendulum, 61.32
// s/day a turn to first order, 61.38 exactly; 36 threads half. l/720 for a minute.
// EB11 p. 539: 1 s/day is 0.000906 in of 39.138.
func TestNut(t *testing.T) {
	length := quantity.Value{V: 39.14 * inch}
	for _, c := range []struct{ pitch, want, tolerance float64 }{
		{inch / 18, 61.38, 5e-3}, {inch / 36, 30.66 * (1 + 0.75/36/39.14), 5e-3},
	} {
		n, err := NutPerTurn(c.pitch, length)
		if err != nil {
			t.Fatal(err)
		}
		within(t, fmt.Sprintf("s/day a turn of %.4f mm", c.pitch*1e3), n.V, c.want, c.tolerance)
	}
	n, err := NutPerTurn(length.V/720, length)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "l/720, s/day", n.V, 60, 0.07) // exact is 0.06 above first order
	n, err = NutPerTurn(0.000906*inch, quantity.Value{V: 39.138 * inch})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "0.000906 in, s/day", n.V, 1, 5e-4)
}

// A ball whose radius is a tenth of its distance lengthens the pendulum by 0.4 %
// (Derham p. 74: l + 2/5·r²/l).
func TestBallCentre(t *testing.T) {
	within(t, "centre of oscillation", BallCentre(1, 0.1), 1.004, 1e-12)
}

// TestHeavyRod: the periods of a uniform rod with a bob, 2π·√(I/(m·g·h)), before and after
// the bob is raised. Half the bob's weight takes most, and no rod takes nothing.
func TestHeavyRod(t *testing.T) {
	const pitch = 1e-6
	least, most, _ := NutShare()
	for _, c := range []struct{ rod, want float64 }{{0, most}, {0.1, 0.9675}, {0.2, 0.9366}, {0.5, 0.8533}} {
		length := func(bob float64) float64 { return (c.rod/3 + bob*bob) / (c.rod/2 + bob) }
		rate := 86400 * (math.Sqrt(length(1)/length(1-pitch)) - 1)
		thread, err := NutPerTurn(pitch, quantity.Value{V: length(1)})
		if err != nil {
			t.Fatal(err)
		}
		share := rate / thread.V
		within(t, fmt.Sprintf("share with a rod of %g", c.rod), share, c.want, 1e-4)
		if share < least || share > most+1e-5 {
			t.Errorf("a rod of %g leaves %g, outside %g to %g", c.rod, share, least, most)
		}
	}
}

// Rods: s/day per K from Beckett p. 53 (recomputed: steel 0.498, brass 0.778, deal
// 0.179; invar 0.043, from memory), and what p. 52 prints of 40 to 70 °F: brass a
// minute in 5 days (64.8 s), wood a minute in 3 weeks (62.6 s); p. 60: wood, 30 °F,
// 20 s a week (20.9). Goodrich: steel rods 0.447 to 0.502.
func TestRods(t *testing.T) {
	per := map[string]float64{}
	for name, want := range map[string]float64{"steel": 0.498, "brass": 0.778, "wood": 0.179, "invar": 0.043} {
		r, err := ParseRod(name)
		if err != nil {
			t.Fatal(err)
		}
		per[name] = -r.PerKelvin().V
		within(t, name+", s/day per K", per[name], want, 5e-4)
		if name == "steel" && (!r.PerKelvin().Covers(-0.447) || !r.PerKelvin().Covers(-0.502)) {
			t.Errorf("steel, %s, leaves out Goodrich's rods", r.PerKelvin().Signed("s/day per K"))
		}
	}
	within(t, "brass, 30 °F, 5 days", per["brass"]*30/1.8*5, 64.8, 0.05)
	within(t, "wood, 30 °F, 3 weeks", per["wood"]*30/1.8*21, 62.6, 0.05)
	within(t, "wood, 30 °F, a week", per["wood"]*30/1.8*7, 20.9, 0.05)
	iron, err := ParseRod("12,6") // iron 0.0070 per 1000 °F: a minute a week for 30 °F, 63.5 s
	if err != nil {
		t.Fatal(err)
	}
	within(t, "iron, 30 °F, a week", -iron.PerKelvin().V*30/1.8*7, 63.5, 0.05)
	for _, bad := range []string{"", "gold", "NaN", "inf", "1e9", "-51"} {
		if _, err := ParseRod(bad); err == nil {
			t.Errorf("rod %q was taken", bad)
		}
	}
}

// Circular error: exact by elliptic integral, digits recomputed; 5400·a² after
// Beckett p. 34, who prints "about 6" for 2° and "just under 4" between 2° and 2½°.
func TestCircularError(t *testing.T) {
	for _, c := range []struct{ degrees, excess, lost, tolerance float64 }{
		{0.5, 0.4112, 0.4112, 5e-5}, {1, 1.6450, 1.6449, 5e-5}, {1.5, 3.7012, 3.7011, 5e-5},
		{2, 6.5802, 6.5797, 5e-5}, {2.5, 10.2820, 10.2807, 5e-5}, {3, 14.8067, 14.8042, 5e-5},
		{4, 26.3263, 26.3183, 5e-5}, {5, 41.1413, 41.1217, 5e-5}, {6, 59.2549, 59.2142, 5e-5},
		{10, 164.7811, 164.4674, 5e-5}, {15, 371.570, 369.979, 5e-4}, {30, 1504.120, 1478.383, 5e-4},
	} {
		a := c.degrees * math.Pi / 180
		lost, err := CircularError(a)
		if err != nil {
			t.Fatal(err)
		}
		excess := lost / (1 - lost/86400) // 86400·(T/T₀ − 1), the other figure of this name
		within(t, fmt.Sprintf("excess at %v°", c.degrees), excess, c.excess, c.tolerance)
		within(t, fmt.Sprintf("lost rate at %v°", c.degrees), lost, c.lost, c.tolerance)
		if c.degrees <= 2.5 { // a⁴ terms stay below 1e-4 of it
			within(t, fmt.Sprintf("5400 a² at %v°", c.degrees), lost, 5400*a*a, 1.5e-4*lost+1e-6)
		}
	}
	// What more arc costs: he prints "just under 4", and "nearly 1" for ten minutes of arc.
	for _, c := range []struct{ more, want float64 }{{30, 3.702}, {10, 1.142}} {
		less, _ := CircularError(2 * math.Pi / 180)
		lost, err := CircularError((2 + c.more/60) * math.Pi / 180)
		if err != nil {
			t.Fatal(err)
		}
		within(t, fmt.Sprintf("from 2° to %v′ more", c.more), lost/(1-lost/86400)-less/(1-less/86400), c.want, 5e-4)
	}
}

// Printed s/day per inch of mercury beside s/day per hPa: Beckett p. 73, EB11,
// Matthys ch. 30, MNRAS 33 (1873) p. 293, Hong Kong Observatory 1916 and 1920.
func TestBarometer(t *testing.T) {
	for _, c := range []struct{ inch, hPa float64 }{
		{0.3, 0.0089}, {0.2, 0.0059}, {0.4, 0.0118}, {0.37, 0.0109}, {0.41, 0.0121}, {0.676, 0.0200}, {0.575, 0.0170},
	} {
		got := -c.inch / 33.8639 // hPa in an inch of mercury
		within(t, fmt.Sprintf("%v s/day per inch", c.inch), got, -c.hPa, 5.1e-5)
		if least, most := PressureRange(); got > least || got < most {
			t.Errorf("%v s/day per inch, %v per hPa, lies outside the range %v to %v", c.inch, got, least, most)
		}
	}
}

func TestRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	v := func(x float64) quantity.Value { return quantity.Value{V: x} }
	for name, call := range map[string]func() error{
		"latitude":     func() error { _, err := Gravity(91, 0); return err },
		"latitude NaN": func() error { _, err := Gravity(nan, 0); return err },
		"height":       func() error { _, err := Gravity(0, inf); return err },
		"beat":         func() error { _, err := Length(-1, v(9.8)); return err },
		"beat inf":     func() error { _, err := Length(inf, v(9.8)); return err },
		"gravity":      func() error { _, err := Length(1, v(0)); return err },
		"pitch":        func() error { _, err := NutPerTurn(0, v(1)); return err },
		"pitch length": func() error { _, err := NutPerTurn(0.001, v(nan)); return err },
		"arc":          func() error { _, err := CircularError(-0.1); return err },
		"arc NaN":      func() error { _, err := CircularError(nan); return err },
	} {
		if _, ok := errors.AsType[*quantity.InputError](call()); !ok {
			t.Errorf("%s: %v is no *quantity.InputError", name, call())
		}
	}
}

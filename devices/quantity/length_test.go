package quantity

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseLength(t *testing.T) {
	// By hand from 1 in = 25.4 mm exactly; limits of error over √3 = 1.7320508
	// (rectangular, JCGM 100:2008, 4.3.7), brackets as in 7.2.2 of the same.
	tests := []struct {
		text   string
		assume Unit
		metres float64
		u      float64
		rect   bool
		unit   Unit
		step   float64
	}{
		{"63.5mm", NoUnit, 0.0635, 0, false, Millimetre, 1e-4},
		{"63.50 mm", NoUnit, 0.0635, 0, false, Millimetre, 1e-5},
		{"63,5mm", NoUnit, 0.0635, 0, false, Millimetre, 1e-4},
		{" 63.5 MM ", NoUnit, 0.0635, 0, false, Millimetre, 1e-4},
		{"63.5\u00a0mm", NoUnit, 0.0635, 0, false, Millimetre, 1e-4},
		{"6.35cm", NoUnit, 0.0635, 0, false, Centimetre, 1e-4},
		{"0.0635m", NoUnit, 0.0635, 0, false, Metre, 1e-4},
		{"450um", NoUnit, 0.00045, 0, false, Micrometre, 1e-6},
		{"450 µm", NoUnit, 0.00045, 0, false, Micrometre, 1e-6},
		{"2.5in", NoUnit, 0.0635, 0, false, Inch, 0.00254},
		{`2.5"`, NoUnit, 0.0635, 0, false, Inch, 0.00254},
		{"2.5 inch", NoUnit, 0.0635, 0, false, Inch, 0.00254},
		{"2-1/2in", NoUnit, 0.0635, 0, false, Inch, 0},
		{"2 - 1/2 in", NoUnit, 0.0635, 0, false, Inch, 0},
		{`2 1/2"`, NoUnit, 0.0635, 0, false, Inch, 0},
		{"5/8in", NoUnit, 0.015875, 0, false, Inch, 0},
		{"-5/8in", NoUnit, -0.015875, 0, false, Inch, 0},
		{"-2-1/2in", NoUnit, -0.0635, 0, false, Inch, 0},
		{"22thou", NoUnit, 0.0005588, 0, false, Thou, 0.0000254},
		{"22.5 Thou", NoUnit, 0.0005715, 0, false, Thou, 0.00000254},
		{".5mm", NoUnit, 0.0005, 0, false, Millimetre, 1e-4},
		{"5.mm", NoUnit, 0.005, 0, false, Millimetre, 1e-3},
		{"+63.5mm", NoUnit, 0.0635, 0, false, Millimetre, 1e-4},
		{"\u22120.01mm", NoUnit, -0.00001, 0, false, Millimetre, 1e-5},
		{"0mm", NoUnit, 0, 0, false, Millimetre, 1e-3},
		{"63.5", Millimetre, 0.0635, 0, false, Millimetre, 1e-4},
		{"2.5", Inch, 0.0635, 0, false, Inch, 0.00254},
		{"5/8", Inch, 0.015875, 0, false, Inch, 0},
		{"22thou", Millimetre, 0.0005588, 0, false, Thou, 0.0000254}, // the text's own unit wins
		{"0.56±0.01mm", NoUnit, 0.00056, 0.01e-3 / 1.7320508075688772, true, Millimetre, 1e-5},
		{"0.56mm±0.01mm", NoUnit, 0.00056, 0.01e-3 / 1.7320508075688772, true, Millimetre, 1e-5},
		{"0.56 mm ± 0,01", NoUnit, 0.00056, 0.01e-3 / 1.7320508075688772, true, Millimetre, 1e-5},
		{"0.56+-0.01mm", NoUnit, 0.00056, 0.01e-3 / 1.7320508075688772, true, Millimetre, 1e-5},
		{"0.56 +/- 0.01 mm", NoUnit, 0.00056, 0.01e-3 / 1.7320508075688772, true, Millimetre, 1e-5},
		{`2.5in ± 0.001"`, NoUnit, 0.0635, 0.0254e-3 / 1.7320508075688772, true, Inch, 0.00254},
		{"0.400±0.008mm", NoUnit, 0.0004, 0.008e-3 / 1.7320508075688772, true, Millimetre, 1e-6},
		{"0.560(6)mm", NoUnit, 0.00056, 6e-6, false, Millimetre, 1e-6},
		{"0.400(8) mm", NoUnit, 0.0004, 8e-6, false, Millimetre, 1e-6},
		{"0.560 mm (6)", NoUnit, 0.00056, 6e-6, false, Millimetre, 1e-6},
		{"63.50(12)", Millimetre, 0.0635, 0.12e-3, false, Millimetre, 1e-5},
		{"110(2)in", NoUnit, 2.794, 0.0508, false, Inch, 0.0254},
	}
	for _, test := range tests {
		t.Run(test.text, func(t *testing.T) {
			got, err := ParseLength(test.text, test.assume)
			if err != nil {
				t.Fatal(err)
			}
			if !near(got.Metres, test.metres) || !near(got.U, test.u) || !near(got.Step, test.step) {
				t.Errorf("got %v m, u %v, step %v; want %v, %v, %v",
					got.Metres, got.U, got.Step, test.metres, test.u, test.step)
			}
			if got.Unit != test.unit || got.Rectangular != test.rect || got.Stated != (test.u > 0) {
				t.Errorf("got %v, rectangular %v, stated %v", got.Unit, got.Rectangular, got.Stated)
			}
			if got.Text != test.text {
				t.Errorf("text %q was kept as %q", test.text, got.Text)
			}
		})
	}
}

// near allows for one rounding of each of the two float64 numbers.
func near(got, want float64) bool {
	return math.Abs(got-want) <= 4e-16*math.Abs(want)
}

func TestParseLengthRefuses(t *testing.T) {
	const form = " is no length: write it like 63.5mm, 2.5in, 5/8in, 22thou or 0.56±0.01mm"
	tests := []struct{ text, want string }{
		{"", "empty: write a length such as 63.5mm"},
		{" \t", "empty: write a length such as 63.5mm"},
		{"63.5", "63.5 has no unit: write 63.5mm or 63.5in, or give --units for all"},
		{"2 1/2", "2 1/2 has no unit: write 2 1/2mm or 2 1/2in, or give --units for all"},
		{"2\n1/2", "2 1/2 has no unit: write 2 1/2mm or 2 1/2in, or give --units for all"},
		{"63.5ells", `"63.5ells": unit "ells" is not known: use mm, cm, m, um, in or thou`},
		{"63.5mmm", `"63.5mmm": unit "mmm" is not known: use mm, cm, m, um, in or thou`},
		{"63.5 m m", `"63.5 m m"` + form},
		{"63.5 mm mm", `"63.5 mm mm"` + form},
		{"63.5mm K", `"63.5mm K"` + form},
		{"mm", `"mm"` + form},
		{"NaN", `"NaN"` + form},
		{"nan mm", `"nan mm"` + form},
		{"inf mm", `"inf mm"` + form},
		{"+Infmm", `"+Infmm"` + form},
		{"0x10mm", `"0x10mm"` + form},
		{"1_000mm", `"1_000mm"` + form},
		{"1e-3mm", `"1e-3mm" has an exponent: write the number out, like 0.001`},
		{"1E3 mm", `"1E3 mm" has an exponent: write the number out, like 0.001`},
		{"1.234,5mm", `"1.234,5mm"` + form},
		{"1,234.5mm", `"1,234.5mm"` + form},
		{"--5mm", `"--5mm"` + form},
		{"2--1/2in", `"2--1/2in"` + form},
		{"2.5-1/2in", `"2.5-1/2in"` + form},
		{"5/8/2in", `"5/8/2in"` + form},
		{"5/0in", `"5/0in" divides by zero: was the fraction meant the other way round?`},
		{"0.56±mm", `"0.56±mm"` + form},
		{"0.56±-0.01mm", `"0.56±-0.01mm"` + form},
		{"0.56mm±0.01in", `"0.56mm±0.01in" has two units, mm and in: write one`},
		{"5/8in±1thou", `"5/8in±1thou" has two units, in and thou: write one`},
		{"0.56mm±0.01ells", `"0.56mm±0.01ells": unit "ells" is not known: use mm, cm, m, um, in or thou`},
		{"5/8(1)in", `"5/8(1)in": (1) counts last decimals, and a fraction has none: write ± instead`},
		{"0.56()mm", `"0.56()mm"` + form},
		{"63.5mm; 4mm", `"63.5mm; 4mm"` + form},
		{"99999m", `"99999m" is longer than 1 km: was the unit meant?`},
		{"1mm±99999999mm", `"1mm±99999999mm" is longer than 1 km: was the unit meant?`},
		{strings.Repeat("9", 65) + "mm", `"99999999999999999999"… is no length: more than 64 characters`},
	}
	for _, test := range tests {
		t.Run(test.text, func(t *testing.T) {
			got, err := ParseLength(test.text, NoUnit)
			if err == nil {
				t.Fatalf("taken as %+v", got)
			}
			if err.Error() != test.want {
				t.Errorf("got  %s\nwant %s", err, test.want)
			}
			if got != (Length{}) {
				t.Errorf("a refused text left %+v", got)
			}
		})
	}
	if _, err := ParseLength("63.5", NoUnit); !errors.Is(err, ErrNoUnit) {
		t.Errorf("%v can't be told from other errors", err)
	}
	if _, err := ParseLength("63.5", Unit(99)); !errors.Is(err, ErrNoUnit) {
		t.Errorf("a unit that doesn't exist was assumed: %v", err)
	}
}

// A length written in any unit and form comes back, and its uncertainty with it.
func TestLengthRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]Unit{Millimetre, Centimetre, Metre, Micrometre, Inch, Thou}).Draw(t, "unit")
		places := rapid.IntRange(0, 6).Draw(t, "places")
		digits := rapid.Int64Range(0, 9_999_999).Draw(t, "digits")
		last := rapid.Int64Range(1, 999).Draw(t, "last")
		form := rapid.SampledFrom([]string{"%s%s", "%s %s", "%[1]s±%[3]s%[2]s", "%s%s +- %s", "%[1]s(%[4]d)%[2]s"}).Draw(t, "form")
		point := rapid.SampledFrom([]string{".", ","}).Draw(t, "point")

		size := math.Pow(10, float64(-places))
		number := strings.Replace(fmt.Sprintf("%.*f", places, float64(digits)*size), ".", point, 1)
		limit := strings.Replace(fmt.Sprintf("%.*f", places, float64(last)*size), ".", point, 1)
		text := fmt.Sprintf(form, number, unit, limit, last)
		text, _, _ = strings.Cut(text, "%!(EXTRA")

		got, err := ParseLength(text, NoUnit)
		if want := float64(digits) * size * unit.Metres(); want > MaxLength {
			if err == nil {
				t.Fatalf("%s was taken", text)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if want := float64(digits) * size * unit.Metres(); math.Abs(got.Metres-want) > 1e-14*want {
			t.Errorf("%s: got %v m, want %v", text, got.Metres, want)
		}
		want := float64(last) * size * unit.Metres()
		if strings.ContainsAny(text, "±+") {
			want /= math.Sqrt(3)
		}
		if got.Stated != strings.ContainsAny(text, "±+(") || got.Stated && math.Abs(got.U-want) > 1e-14*want {
			t.Errorf("%s: got u %v m (stated %v), want %v", text, got.U, got.Stated, want)
		}
	})
}

func FuzzParseLength(f *testing.F) {
	for _, s := range []string{"63.5mm", "2-1/2in", "5/8\"", "22thou", "0.56±0.01mm", "0.560(6)mm", "6,35 cm", "1e9m", "-0.0mm", "9/0in", "±"} {
		f.Add(s, uint8(0))
		f.Add(s, uint8(Millimetre))
	}
	f.Fuzz(func(t *testing.T, s string, assume uint8) {
		l, err := ParseLength(s, Unit(assume))
		if err != nil {
			if l != (Length{}) {
				t.Fatalf("%q: an error and a length: %+v", s, l)
			}
			return
		}
		if !(math.Abs(l.Metres) <= MaxLength) || !(l.U >= 0 && l.U <= MaxLength) || !(l.Step >= 0) {
			t.Fatalf("%q: %+v is no length", s, l)
		}
		if l.Unit == NoUnit || l.Text != s || l.Rectangular && !l.Stated {
			t.Fatalf("%q: %+v", s, l)
		}
	})
}

func TestUnits(t *testing.T) {
	for _, u := range []Unit{Millimetre, Centimetre, Metre, Micrometre, Inch, Thou} {
		got, ok := ParseUnit(u.String())
		if !ok || got != u {
			t.Errorf("%s is read as %s, %v", u, got, ok)
		}
		if size, _ := unitTable[u].rat.Float64(); size != u.Metres() {
			t.Errorf("%s: %v m and %v m", u, size, u.Metres())
		}
	}
	if u, ok := ParseUnit("furlong"); ok {
		t.Errorf("furlong is read as %s", u)
	}
	if got := Unit(99).String(); got != "unit(99)" {
		t.Errorf("got %s", got)
	}
	if got := Unit(99).Metres(); got != 0 {
		t.Errorf("got %v", got)
	}
}

func ExampleParseLength() {
	l, err := ParseLength("2-1/2in", NoUnit)
	fmt.Println(l.Metres, err)
	_, err = ParseLength("63.5", NoUnit)
	fmt.Println(err)
	// Output:
	// 0.0635 <nil>
	// 63.5 has no unit: write 63.5mm or 63.5in, or give --units for all
}

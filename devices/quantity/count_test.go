package quantity

import (
	"strings"
	"testing"
)

func TestParseCount(t *testing.T) {
	const form = " is no count: write it like 13, 13.75, 13-3/4 or 13.75±0.25"
	tests := []struct {
		text   string
		v, u   float64
		rect   bool
		refuse string
	}{
		{"96", 96, 0, false, ""},
		{"13.75", 13.75, 0, false, ""},
		{"13,75", 13.75, 0, false, ""},
		{"13 3/4", 13.75, 0, false, ""},
		{"13-3/4", 13.75, 0, false, ""},
		{"13.75±0.25", 13.75, 0.25 / 1.7320508075688772, true, ""},
		{"13.8(2)", 13.8, 0.2, false, ""},
		{"13(1)", 13, 1, false, ""},
		{"", 0, 0, false, "empty: write a count such as 13"},
		{"13mm", 0, 0, false, `"13mm" has a unit: a count is a bare number`},
		{"13±1 mm", 0, 0, false, `"13±1 mm" has a unit: a count is a bare number`},
		{"0", 0, 0, false, `"0": a count must be above 0 and at most 1000000`},
		{"-13", 0, 0, false, `"-13": a count must be above 0 and at most 1000000`},
		{"1000001", 0, 0, false, `"1000001": a count must be above 0 and at most 1000000`},
		{"13±9999999", 0, 0, false, `"13±9999999": a count must be above 0 and at most 1000000`},
		{"1e3", 0, 0, false, `"1e3" has an exponent: write the number out, like 0.001`},
		{"3/0", 0, 0, false, `"3/0" divides by zero: was the fraction meant the other way round?`},
		{"3/4(1)", 0, 0, false, `"3/4(1)": (1) counts last decimals, and a fraction has none: write ± instead`},
		{"NaN", 0, 0, false, `"NaN"` + form},
		{"many", 0, 0, false, `"many"` + form},
	}
	for _, test := range tests {
		got, err := ParseCount(test.text)
		if message(err) != test.refuse {
			t.Errorf("%q: got %v, want %s", test.text, err, test.refuse)
			continue
		}
		if err != nil {
			continue
		}
		if !near(got.V, test.v) || !near(got.U, test.u) || got.Rectangular != test.rect || got.Stated != (test.u > 0) {
			t.Errorf("%q: got %+v", test.text, got)
		}
	}
}

func TestTurns(t *testing.T) {
	for _, tt := range []struct {
		n      float64
		digits int
		want   string
	}{{1, -1, "1 turn"}, {-1, 3, "−1 turn"}, {0.999, 2, "1 turn"}, {0.999, 3, "0.999 turns"}, {0, -1, "0 turns"}, {8.25, -1, "8.25 turns"}} {
		if got := Turns(tt.n, tt.digits); got != tt.want {
			t.Errorf("Turns(%g, %d): %q, want %q", tt.n, tt.digits, got, tt.want)
		}
	}
	for n, want := range map[float64]string{1: "+1 turn", 0: "+0 turns", -0.25: "−0.25 turns", 1.0 / 3: "+0.3333 turns"} {
		if got := SignedTurns(n, 4); got != want {
			t.Errorf("SignedTurns(%g): %q, want %q", n, got, want)
		}
	}
}

func TestParseTurns(t *testing.T) {
	for text, want := range map[string]float64{
		"-0.5": -0.5, "+1": 1, "0": 0, "0,25": 0.25, "−0,25": -0.25, ".5": 0.5, "1/4": 0.25, "-1/4": -0.25, "+1/8": 0.125,
		"1 1/2": 1.5, "-1 1/2": -1.5, "1-1/2": 1.5, " - 1/4 ": -0.25, "1/3": 1.0 / 3,
	} {
		if got, err := ParseTurns(text); err != nil || got != want {
			t.Errorf("%q: %v, %v, want %v", text, got, err, want)
		}
	}
	for text, want := range map[string]string{
		"":         "empty: write a number of turns such as -0.5",
		"half":     `"half" is no number of turns: write it like -0.5, 1/4 or 1 1/2`,
		"NaN":      `"NaN" is no number of turns: write it like -0.5, 1/4 or 1 1/2`,
		"1/4/2":    `"1/4/2" is no number of turns: write it like -0.5, 1/4 or 1 1/2`,
		"1,5,5":    `"1,5,5" is no number of turns: write it like -0.5, 1/4 or 1 1/2`,
		"1/0":      `"1/0" divides by zero: was the fraction meant the other way round?`,
		"1e2":      `"1e2" has an exponent: write the number out, like 0.001`,
		"1mm":      `"1mm" has a unit: a number of turns is a bare number`,
		"0.5±0.1":  `"0.5±0.1" has an uncertainty: a number of turns has none`,
		"0.50(10)": `"0.50(10)" has an uncertainty: a number of turns has none`,
	} {
		if got, err := ParseTurns(text); message(err) != want {
			t.Errorf("%q: %v, %v, want %s", text, got, err, want)
		}
	}
}

func TestParseDegrees(t *testing.T) {
	for _, tt := range []struct {
		text string
		v, u float64
	}{{"1.9", 1.9, 0}, {"1,9°", 1.9, 0}, {" 270 deg ", 270, 0}, {"1.9±0.1°", 1.9, 0.1 / 1.7320508075688772}, {"360", 360, 0}} {
		if n, err := ParseDegrees(tt.text); err != nil || n.V != tt.v || n.U != tt.u {
			t.Errorf("%q: %+v, %v", tt.text, n, err)
		}
	}
	for _, bad := range []string{"", "0", "-1.9", "361°", "1.9 rad", "1.9mm", "°", "NaN"} {
		if n, err := ParseDegrees(bad); err == nil || !strings.Contains(err.Error(), "is not an angle up to 360°") {
			t.Errorf("%q: %+v, %v", bad, n, err)
		}
	}
}

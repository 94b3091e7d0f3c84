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

package quantity

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestFullText(t *testing.T) {
	// U is chosen with K 2 so that the half-width is plain to see: 2·U.
	tests := []struct {
		v          float64
		half       float64
		unit       string
		text, sign string
	}{
		{1767.146, 8.4, "mm", "1767.1 ± 8.4 mm", "+1767.1 ± 8.4 mm"},
		{-3.2541, 0.186, "s/day", "−3.25 ± 0.19 s/day", "−3.25 ± 0.19 s/day"},
		{0.52594, 0.01234, "", "0.526 ± 0.012", "+0.526 ± 0.012"},
		{0.5, 0.0996, "", "0.50 ± 0.10", "+0.50 ± 0.10"},
		{63.5, 0.0231, "mm", "63.500 ± 0.023 mm", "+63.500 ± 0.023 mm"},
		{12.4, 99.6, "h", "10 ± 100 h", "+10 ± 100 h"},
		{1234.5, 567, "mm", "1230 ± 570 mm", "+1230 ± 570 mm"},
		{5712345678, 123456789, "Pa", "5710000000 ± 120000000 Pa", "+5710000000 ± 120000000 Pa"},
		{-0.001, 0.5, "s", "0.00 ± 0.50 s", "+0.00 ± 0.50 s"},
		{3.0125e-10, 1e-11, "", "3.01e−10 ± 1.0e−11", "+3.01e−10 ± 1.0e−11"},
		{0, 1e-11, "", "0.0e+00 ± 1.0e−11", "+0.0e+00 ± 1.0e−11"},
		{45, 0, "mm", "45 mm", "+45 mm"},
		{math.NaN(), 1, "mm", "unknown", "unknown"},
		{1, math.Inf(1), "mm", "unknown", "unknown"},
		{math.Inf(-1), 0, "mm", "unknown", "unknown"},
	}
	for _, test := range tests {
		v := Value{V: test.v, U: test.half / 2, K: 2}
		if got := v.Full(test.unit); got != test.text {
			t.Errorf("Full of %v: got %q, want %q", v, got, test.text)
		}
		if got := v.FullSigned(test.unit); got != test.sign {
			t.Errorf("FullSigned of %v: got %q, want %q", v, got, test.sign)
		}
	}
	if got := (Value{V: 1, U: math.MaxFloat64}).Text("mm"); got != "unknown" {
		t.Errorf("an interval that overflows is told as %q", got)
	}
}

// A person is told no more digits than the trade can use, and no interval narrower
// than the known one by more than a tenth of the last place.
func TestValueText(t *testing.T) {
	tests := []struct {
		v, half float64
		unit    string
		want    string
	}{
		{28.7929, 0.0053, "ms", "28.8 ms"},
		{28.7929, 0.053, "ms", "28.8 ± 0.1 ms"},
		{28.7929, 0.24, "ms", "28.8 ± 0.3 ms"},
		{0.3852, 0.0048, "ms", "0.39 ms"}, // two digits of what differs from nothing
		{0.0031, 0.0046, "ms", "0.0 ms"},
		{-4.880, 0.039, "s/day", "−4.88 ± 0.04 s/day"},
		{-4.880, 0.149, "s/day", "−4.88 ± 0.15 s/day"},
		{0.001, 0.039, "s/day", "0.00 ± 0.04 s/day"},
		{21.753, 0.064, "s/day a turn", "21.75 ± 0.07 s/day a turn"},
		{0.3978, 0.0041, "mm", "0.398 ± 0.004 mm"},
		{44.883, 0.054, "mm", "44.88 ± 0.06 mm"},
		{993.5, 2.9, "mm", "993.5 ± 2.9 mm"},
		{1720.0, 4.8, "mm", "1720 ± 5 mm"},
		{1768, 19, "mm", "1768 ± 19 mm"},
		{0.01566, 0.00016, "in", "0.0157 ± 0.0002 in"},
		{213.2, 2.3, "h", "213.2 ± 2.3 h"},
		{0.704, 0.038, "N·m (estimate)", "0.704 ± 0.038 N·m (estimate)"},
		{0.4864, 0.0056, "", "0.4864 ± 0.0056"}, // a bare number has no floor
		{8.84286, 0, "turns", "8.84 turns"},
		{45, 0, "mm", "45 mm"},
		{-0.001, 0.1, "s/day", "0.00 ± 0.10 s/day"},
		{math.NaN(), 1, "s/day", "unknown"},
	}
	for _, test := range tests {
		v := Value{V: test.v, U: test.half / 2, K: 2}
		if got := v.Text(test.unit); got != test.want {
			t.Errorf("Text of %v: got %q, want %q", v, got, test.want)
		}
		plain, _, _ := strings.Cut(strings.TrimSuffix(test.want, " "+test.unit), " ±")
		if got := v.Plain(test.unit); got != plain {
			t.Errorf("Plain of %v: got %q, want %q", v, got, plain)
		}
	}
}

func TestInterval(t *testing.T) {
	// 1.959964: two-sided 95 % point of the normal distribution; 2.776: Student's
	// with 4 degrees of freedom (JCGM 100:2008, table G.2: 2.78).
	tests := []struct {
		v         Value
		low, high float64
	}{
		{Value{V: 10, U: 1}, 8.040036, 11.959964},
		{Value{V: 10, U: 1, K: 2.776}, 7.224, 12.776},
		{Value{V: -10, U: 0}, -10, -10},
	}
	for _, test := range tests {
		if math.Abs(test.v.Low95()-test.low) > 5e-7 || math.Abs(test.v.High95()-test.high) > 5e-7 {
			t.Errorf("%+v: got %v to %v, want %v to %v", test.v, test.v.Low95(), test.v.High95(), test.low, test.high)
		}
		if !test.v.Covers(test.low+1e-6*test.v.U) || test.v.Covers(test.high+1e-6) {
			t.Errorf("%+v covers the wrong numbers", test.v)
		}
	}
	if got := (Value{V: 2, U: 0.5, K: 3}).Scale(-1000); got != (Value{V: -2000, U: 500, K: 3}) {
		t.Errorf("scaled to %+v", got)
	}
}

// What is written never errs by more than half of the last digit shown, and the
// interval shown has two significant digits.
func TestTextKeepsTheValue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := Value{
			V: rapid.Float64Range(-1e6, 1e6).Draw(t, "v"),
			U: math.Pow(10, rapid.Float64Range(-8, 5).Draw(t, "log u")),
			K: 2,
		}
		text := v.Full("")
		estimate, half, ok := strings.Cut(text, " ± ")
		if !ok {
			t.Fatalf("%v is written %q", v, text)
		}
		x, errX := strconv.ParseFloat(strings.Replace(estimate, "−", "-", 1), 64)
		h, errH := strconv.ParseFloat(half, 64)
		if errX != nil || errH != nil {
			t.Fatalf("%v is written %q", v, text)
		}
		last := math.Pow(10, math.Floor(math.Log10(h)+1e-9)-1)
		grain := math.Nextafter(math.Abs(v.V), math.Inf(1)) - math.Abs(v.V) // how finely a float64 holds the numbers
		if math.Abs(x-v.V) > 0.5001*last+grain || math.Abs(h-v.Half95()) > 0.0501*h {
			t.Errorf("%v is written %q", v, text)
		}
		if digits := strings.TrimLeft(strings.ReplaceAll(half, ".", ""), "0"); len(strings.TrimRight(digits, "0")) > 2 {
			t.Errorf("%v is written %q: more digits than the measurement bears", v, text)
		}
	})
}

func TestSystem(t *testing.T) {
	v := Value{V: 0.0635, U: 0.00001, K: 2}
	tests := []struct {
		name               string
		length, full, size string
		assume             Unit
	}{
		{"mm", "63.50 ± 0.02 mm", "63.500 ± 0.020 mm", "63.50 mm", Millimetre},
		{"in", "2.500 ± 0.001 in", "2.50000 ± 0.00079 in", "2.500 in", Inch},
		{"both", "63.50 ± 0.02 mm (2.500 ± 0.001 in)", "63.500 ± 0.020 mm (2.50000 ± 0.00079 in)", "63.50 mm (2.500 in)", NoUnit},
	}
	for _, test := range tests {
		s, err := ParseSystem(test.name)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Length(v); got != test.length {
			t.Errorf("%s: got %q, want %q", test.name, got, test.length)
		}
		if got := s.FullLength(v); got != test.full {
			t.Errorf("%s, full: got %q, want %q", test.name, got, test.full)
		}
		if got := s.Size(v.V, 2); got != test.size {
			t.Errorf("%s: got %q, want %q", test.name, got, test.size)
		}
		if got := s.Assume(); got != test.assume {
			t.Errorf("%s: assumes %v, want %v", test.name, got, test.assume)
		}
	}
	if _, err := ParseSystem("cubits"); err == nil || err.Error() != `units "cubits" are not known: use mm, in or both` {
		t.Errorf("got %v", err)
	}
}

// Value and u come first and as they are. The ends stand beside them only where they
// can't be found as value ∓ 1.96 u.
func TestValueJSON(t *testing.T) {
	for _, test := range []struct {
		v    Value
		want string
	}{
		{Value{V: 2, U: 0.5}, `{"value":2,"u":0.5}`},
		{Value{V: 2, U: 0.5, K: Normal95}, `{"value":2,"u":0.5}`},
		{Value{V: 2, U: 0.5, K: Normal95 * (1 + 1e-15)}, `{"value":2,"u":0.5}`},
		{Value{V: 2, K: 4}, `{"value":2,"u":0}`},
		{Value{V: 2, U: 0.5, K: 4}, `{"value":2,"u":0.5,"low95":0,"high95":4}`},
		{Value{V: -2, U: 0.5, K: 1.65}, `{"value":-2,"u":0.5,"low95":-2.825,"high95":-1.175}`},
		{Value{V: 2, U: math.MaxFloat64, K: 4}, `{"value":2,"u":1.7976931348623157e+308}`},
	} {
		for name, v := range map[string]any{"value": test.v, "pointer": &test.v} {
			if got, err := json.Marshal(v); err != nil || string(got) != test.want {
				t.Errorf("%s %+v: %s, %v, want %s", name, test.v, got, err, test.want)
			}
		}
	}
	if got, err := json.Marshal(Value{V: math.NaN()}); err == nil {
		t.Errorf("NaN was written as %s", got)
	}
}

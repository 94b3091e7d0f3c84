package main

import (
	"math"
	"testing"
)

// By hand: 3.2 N at 235 mm are 0.752 N·m; 0.35 kg, 3.43233 N, at 235 mm 0.806597 N·m;
// a pound-force at a foot of lever 1.35582 N·m. Five inch-pounds are 5 × 0.0254 m ×
// 4.448222 N, eight kilogram-centimetres 8 × 0.01 m × 9.80665 N. A force of ±0.1 N at 235 mm exactly
// enough is u = 0.1/√3 × 0.235.
func TestParseTorque(t *testing.T) {
	for _, c := range []struct {
		text   string
		v, u   float64
		stated bool
	}{
		{"0.75Nm", 0.75, 0, false},
		{"0.75±0.05Nm", 0.75, 0.05 / math.Sqrt(3), true},
		{"0.75(2) N·m", 0.75, 0.02, true},
		{"750Nmm", 0.75, 0, false},
		{"75 Ncm", 0.75, 0, false},
		{"3.2N*235mm", 0.752, 0, false},
		{"3.2N × 23.5cm", 0.752, 0, false},
		{"0.35kg*235mm", 0.806597, 0, false},
		{"350g*235mm", 0.806597, 0, false},
		{"1lbf*12in", 1.355818, 0, false},
		{"16oz*12in", 1.355818, 0, false},
		{"5inlb", 0.564924, 0, false},
		{"5 in-lb", 0.564924, 0, false},
		{"80oz·in", 0.564924, 0, false},
		{"8kgcm", 0.784532, 0, false},
		{"8±0.5 kgf·cm", 0.784532, 0.5 / math.Sqrt(3) * 0.0980665, true},
		{"3.2±0.1N*235.000(1)mm", 0.752, 0.1 / math.Sqrt(3) * 0.235, true},
		{"3.2±0.1N*235mm", 0.752, 0, false}, // the lever states nothing
	} {
		got, err := new(app).parseTorque(c.text)
		if err != nil || math.Abs(got.V-c.v) > 1e-6 || math.Abs(got.U-c.u) > 1e-6 || got.Stated != c.stated {
			t.Errorf("%s: %+v, %v; want %v, u %v, stated %v", c.text, got, err, c.v, c.u, c.stated)
		}
	}
	for _, text := range []string{"5", "-5Nm", "-5inlb", "5lb", "5in", "NaNNm", "10kgf", "3N*", "*235mm", "3N*0mm", "3N*-2mm", "3N*235", "3mm*235mm", "Nm", "1e3Nm", "3N*2N"} {
		if got, err := new(app).parseTorque(text); statusOf(err) != statusBadCall {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
	}
}

package render

import (
	"bytes"
	"strings"
	"testing"

	"evenbeat/analysis/beat"
	"evenbeat/devices/quantity"
)

// Of a run in stretches the tooth is counted in one of them, and that is told as the
// reasons tell it.
func TestToothIsCountedFromItsPiece(t *testing.T) {
	f := beat.Result{Segments: 1, Tooth: &beat.Tooth{Tooth: 12, Kind: beat.ToothBent, Significant: true, Late: quantity.Value{V: 3e-3, U: 1e-5}}}
	for segments, want := range map[int64]string{
		1: "tooth 12, counted from the first heard: bent, late (+) or early (−) by +3.000 ± 0.020 ms",
		2: "tooth 12, counted from the first heard of the longest stretch: bent,",
	} {
		f.Segments = segments
		var out bytes.Buffer
		if err := Rate(&out, "Hall: the beat", f, true); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(strings.Join(strings.Fields(out.String()), " "), want) {
			t.Errorf("%d segments: want %q in\n%s", segments, want, &out)
		}
	}
}

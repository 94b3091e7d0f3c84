package beat

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"evenbeat/devices/quantity"
)

// A sensor that hears every second beat says nothing of the beat error, whether the clock
// is followed by the beats heard or by all of them, with some missed or none.
func TestOneSideHeard(t *testing.T) {
	for seed := range uint64(40) {
		c := clock{interval: 0.5, beats: 1200, jitter: 80e-6, offset: 0.03, missed: 0.15 * float64(seed%2), seed: seed}
		ev, _, _ := c.hear()
		ev = slices.DeleteFunc(ev, func(e event) bool { return e.k&1 != int(seed/2%2) })
		r := analyse(t, Options{NominalInterval: 0.5}, ev)
		if r.BeatError != (quantity.Value{}) || r.TickTock != (quantity.Value{}) {
			t.Errorf("seed %d: beat error %v, tick less tock %v; want none", seed, r.BeatError, r.TickTock)
		}
		if text := strings.Join(r.Warnings, "; "); !strings.Contains(text, "the sensor hears one side, or the clock beats 3600 an hour: the beat error cannot be told") ||
			seed%2 == 0 && strings.Contains(text, "missed") {
			t.Errorf("seed %d: warnings %q", seed, r.Warnings)
		}
		if text := strings.Join(r.Reasons, " "); strings.Contains(text, "in beat") || strings.Contains(text, "Tick and tock differ") {
			t.Errorf("seed %d: reasons %q", seed, text)
		}
		if text, err := json.Marshal(r); err != nil || strings.Contains(string(text), "beat_error_s") || strings.Contains(string(text), "tick_tock_difference_s") {
			t.Errorf("seed %d: JSON has a beat error: %s, error %v", seed, text, err)
		}
	}
}

// The clock is in or out of beat only where the whole interval says so.
func TestInBeat(t *testing.T) {
	for _, tc := range []struct {
		share, u float64 // of the interval
		in, told bool
	}{
		{0.003, 0.0001, true, true},
		{0.019, 0.0001, true, true},
		{0.019, 0.001, false, false},
		{0.021, 0.001, false, false},
		{0.03, 0.001, false, true},
		{0.001, 2, false, false},
		{0, 0, false, false},
	} {
		r := Result{IntervalS: 0.5, BeatError: quantity.Value{V: 0.5 * tc.share, U: 0.5 * tc.u}}
		if in, told := r.InBeat(); in != tc.in || told != tc.told {
			t.Errorf("beat error of %g ± 2·%g of the interval: in beat %v, told %v; want %v, %v", tc.share, tc.u, in, told, tc.in, tc.told)
		}
	}
}

// The words follow InBeat.
func TestEvennessInWords(t *testing.T) {
	for offset, want := range map[float64]string{0.006: " of the interval: in beat.", 0.06: " of the interval: the clock is out of beat."} {
		c := clock{interval: 0.5, beats: 600, jitter: 80e-6, offset: offset, seed: 1}
		ev, _, _ := c.hear()
		r := analyse(t, Options{NominalInterval: 0.5}, ev)
		if !slices.ContainsFunc(r.Reasons, func(s string) bool { return strings.HasSuffix(s, want) }) {
			t.Errorf("tick and tock %g s apart: %q, want one that ends with %q", offset, r.Reasons, want)
		}
	}
}

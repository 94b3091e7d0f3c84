package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenbeat/devices/simulate"
)

// A light gate's two edges in a beat file, with the flag's width and distance, give
// the simulated clock's amplitude; the lengths' uncertainty is in the interval.
func TestRateTellsTheAmplitude(t *testing.T) {
	cfg := simulate.EvenClock(3)
	cfg.Gate, cfg.Jitter = simulate.Gate{Flag: 5e-3, Distance: 0.9}, 80e-6
	c, err := simulate.NewClock(cfg)
	if err != nil {
		t.Fatal(err)
	}
	var text []byte
	for e := range c.Beats(0, 900) {
		text = e.AppendLine(text)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "gate.txt")
	if err := os.WriteFile(file, text, 0o600); err != nil {
		t.Fatal(err)
	}
	call := func(args ...string) (status int, out, errs string) {
		var o, e bytes.Buffer
		args = append([]string{"rate", "--beats", file, "--beats-per-hour", "3600", "--book", filepath.Join(dir, "b.db")}, args...)
		status = run(t.Context(), args, []string{"HOME=" + dir}, strings.NewReader(""), &o, &e)
		return status, o.String(), e.String()
	}
	status, out, errs := call("--flag", "5.00±0.02mm", "--flag-distance", "900±1mm", "--json")
	var f struct {
		Amplitude struct{ Value, U float64 } `json:"amplitude_deg"`
		Circular  struct{ Value, U float64 } `json:"circular_error_s_per_day"`
	}
	if err := json.Unmarshal([]byte(out), &f); err != nil || status != 0 {
		t.Fatalf("status %d, %v: %s", status, err, errs)
	}
	want := cfg.Amplitude * 180 / math.Pi
	if math.Abs(f.Amplitude.Value/want-1) > 1e-3 {
		t.Errorf("amplitude %g°, want %g", f.Amplitude.Value, want)
	}
	if rel := f.Amplitude.U / f.Amplitude.Value; math.Abs(rel-0.02/5/math.Sqrt(3)) > 1e-4 {
		t.Errorf("relative uncertainty %g, want that of the flag's width, %g", rel, 0.02/5/math.Sqrt(3))
	}
	if loss := simulate.CircularLoss(cfg.Amplitude); math.Abs(f.Circular.Value-loss) > 2*f.Circular.U {
		t.Errorf("circular error %g s/day, want %g", f.Circular.Value, loss)
	}
	if _, out, _ := call("--flag", "5mm", "--flag-distance", "900mm"); !strings.Contains(out, "° to either side") {
		t.Errorf("the amplitude is not written: %s", out)
	}
	for _, tc := range []struct{ want, flag, distance string }{
		{"--flag and --flag-distance: give both", "5mm", ""},
		{"were the two swapped?", "900mm", "5mm"},
		{"--flag-distance: ", "5mm", "900 ells"},
		{"must be more than nothing", "-5mm", "900mm"},
	} {
		status, out, errs := call("--flag", tc.flag, "--flag-distance", tc.distance)
		if status != 2 || out != "" || !strings.Contains(errs, tc.want) {
			t.Errorf("--flag %s --flag-distance %s: status %d, %q, %q; want 2 and %q", tc.flag, tc.distance, status, out, errs, tc.want)
		}
	}
}

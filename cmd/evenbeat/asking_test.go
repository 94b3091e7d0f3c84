//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"evenbeat/devices/quantity"
)

// typed runs a command with what a person types at a terminal.
func typed(t *testing.T, dir, text string, args ...string) (status int, out, errs string) {
	t.Helper()
	keys, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer keys.Close()
	defer tty.Close()
	if _, err := keys.WriteString(text); err != nil {
		t.Fatal(err)
	}
	var o, e bytes.Buffer
	status = run(t.Context(), append(args, "--book", filepath.Join(dir, "book.db")), []string{"HOME=" + dir}, tty, &o, &e)
	return status, o.String(), e.String()
}

// A person is asked about what is far off, and can type it again.
func TestFarChecksAreAsked(t *testing.T) {
	dir := t.TempDir()
	must := func(want, text string, args ...string) string {
		t.Helper()
		status, out, errs := typed(t, dir, text, args...)
		if status != statusDone || !strings.Contains(errs, want) || want == "" && strings.Contains(errs, "?") {
			t.Fatalf("%q: status %d, out %q, asked %q, want %q", args, status, out, errs, want)
		}
		return out
	}
	must("", "", "clock", "add", "Hall", "--zone", "Europe/Paris")
	day := time.Now().AddDate(0, 0, -20)
	at := func(n int) string { return day.AddDate(0, 0, n).UTC().Format("2006-01-02T15:04Z") }
	for n := range 8 {
		must("", "", "check", "--error", fmt.Sprintf("%+ds", 2*n), "--at", at(n))
	}
	if out := must("+58 s from the forecast: a minute misread?", "what\n+16.5s\n", "check", "--error", "+74s", "--at", at(8)); !strings.Contains(out, "+16.50 s") || strings.Contains(out, "doubtful") {
		t.Errorf("typed again: %q", out)
	}
	if out := must("−1 h from the forecast: summer time, or the hour misread?", "\n", "check", "--error", "-59m42s", "--at", at(9)); !strings.Contains(out, "−3582.00 s") || !strings.Contains(out, "doubtful") {
		t.Errorf("kept: %q", out)
	}
	if out := must("Warning: +60 s from the forecast", "", "check", "--error", "+80s", "--at", at(10), "--yes"); !strings.Contains(out, "doubtful") {
		t.Errorf("--yes: %q", out)
	}
	must("", "", "check", "--error", "+22s", "--at", at(11))
	out := must("", "", "going", "--json")
	var f struct {
		Mean struct{ Value float64 } `json:"mean_rate_s_per_day"`
		Off  []struct{ Check int64 } `json:"doubtful"`
	}
	if err := json.Unmarshal([]byte(out), &f); err != nil || math.Abs(f.Mean.Value-2) > 0.01 || len(f.Off) != 2 || f.Off[0].Check != 10 {
		t.Errorf("%+v, %v, want 2 s/day and two doubtful checks", f, err)
	}
	must("of the nut are unusually many", "y\n", "note", "--kind", "adjusted", "--turns", "30", "--at", at(12))
	year := day.AddDate(-3, 0, 0).Format("2006-01-02T15:04")
	for _, c := range [][]string{
		{"note", "--kind", "adjusted", "--turns", "-30", "--at", at(13)},
		{"note", "--kind", "wound", "--at", time.Now().Add(48 * time.Hour).Format(time.RFC3339)},
		{"note", "--kind", "wound", "--at", year},
		{"check", "--error", "+24s", "--at", year},
	} {
		if status, out, errs := typed(t, dir, "n\n", c...); status == statusDone || out != "" || !strings.Contains(errs, "is that right?") || !strings.Contains(errs, "nothing recorded") {
			t.Errorf("%q: status %d, %q, %q", c, status, out, errs)
		}
	}
}

// A dial further out than half a minute is told by the minute at which its hand stood,
// and a stray Enter isn't kept.
func TestEnterAsksTheMinute(t *testing.T) {
	dir := t.TempDir()
	for _, wrong := range []string{"\n\n", "\n", "\x04", "\nsoon\n\n"} {
		status, out, errs := typed(t, dir, wrong+"\x04", "check")
		if status == statusDone || out != "" || !strings.Contains(errs, "nothing recorded") {
			t.Errorf("%q: status %d, %q, %q", wrong, status, out, errs)
		}
	}
	now := time.Date(2026, 3, 1, 10, 59, 40, 0, time.UTC)
	for text, want := range map[string]float64{"58": -100, "0": 20, "10:58": -100, "1:00": 2*3600 + 20, "22:59": -40, "11:01": 80} {
		h, err := quantity.ParseHand(text)
		if got := h.DialError(now); err != nil || math.Abs(got-want) > 1e-9 {
			t.Errorf("%q: %g, %v, want %g", text, got, err, want)
		}
	}
	if got := quantity.NearestMinute.DialError(now); got != 20 {
		t.Errorf("nearest minute: %g", got)
	}
	for _, text := range []string{"61", "-1", "x", "25:00", "10:"} {
		if _, err := quantity.ParseHand(text); err == nil {
			t.Errorf("%q is taken for a minute", text)
		}
	}
}

//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"io"
	"iter"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"evenbeat/devices/simulate"
)

// A light gate of two edges on a serial line, at the pace of a quick clock: time finds
// the simulated pendulum's amplitude, and what it loses by it, within their intervals,
// and rate finds them again in the book. Of a flag that is a hundredth wider or narrower
// than they are told, both intervals miss the truth.
func TestTimeTellsTheAmplitude(t *testing.T) {
	cfg := simulate.EvenClock(5)
	cfg.BeatsPerHour, cfg.Span = 72000, 60
	cfg.Gate, cfg.Amplitude = simulate.Gate{Flag: 5e-3, Distance: 0.9}, simulate.Degrees(2.3)
	cfg.Jitter, cfg.ResonatorPPM = 80e-6, 3000
	c, err := simulate.NewClock(cfg)
	if err != nil {
		t.Fatal(err)
	}
	gate, tty, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer gate.Close()
	defer tty.Close()
	dir := t.TempDir()
	distance := []string{"--flag-distance", "900.0±0.5mm", "--json"}
	r := start(t, dir, append([]string{"time", "--port", tty.Name(), "--profile", "beat-counter",
		"--log-level", "debug", "--flag", "5.00±0.02mm"}, distance...)...)
	r.errs.await(t, "opened") // opening flushes the line
	if err := serve(gate, c.Lines(0, 2)); err != nil {
		t.Fatal(err)
	}
	var last []byte
	for _, last = range c.Lines(0, 2) {
	}
	r.errs.await(t, strings.TrimSpace(string(last)))
	r.stop()
	var found []byte
	for r.out.Scan() {
		found = append(found, r.out.Bytes()...)
	}
	r.end()
	swings(t, found, cfg.Amplitude, true)
	for flag, right := range map[string]bool{"5.00±0.02mm": true, "5.05±0.02mm": false, "4.95±0.02mm": false} {
		var out, errs bytes.Buffer
		args := append([]string{"rate", "--session", "1", "--book", filepath.Join(dir, "book.db"), "--flag", flag}, distance...)
		if status := run(t.Context(), args, []string{"HOME=" + dir}, strings.NewReader(""), &out, &errs); status != statusDone {
			t.Fatalf("flag %s: status %d: %s", flag, status, &errs)
		}
		swings(t, out.Bytes(), cfg.Amplitude, right)
	}
}

// serve writes a script, of times in nanoseconds and bytes, to w in real time.
func serve(w io.Writer, script iter.Seq2[int64, []byte]) error {
	began := time.Now()
	for at, b := range script {
		<-time.After(time.Duration(at) - time.Since(began))
		if _, err := w.Write(b); err != nil {
			return err
		}
	}
	return nil
}

// swings holds the amplitude in findings and the circular error against the truth, in
// radians: the 95 % intervals hold it, or both miss it.
func swings(t *testing.T, findings []byte, truth float64, held bool) {
	t.Helper()
	var f struct {
		Amplitude struct{ Value, U float64 } `json:"amplitude_deg"`
		Circular  struct{ Value, U float64 } `json:"circular_error_s_per_day"`
	}
	if err := json.Unmarshal(findings, &f); err != nil {
		t.Fatalf("%q: %v", findings, err)
	}
	for _, x := range []struct{ got, u, want float64 }{
		{f.Amplitude.Value, f.Amplitude.U, truth * 180 / math.Pi}, {f.Circular.Value, f.Circular.U, simulate.CircularLoss(truth)},
	} {
		if holds := math.Abs(x.got-x.want) <= 1.96*x.u; holds != held {
			t.Errorf("%g, standard uncertainty %g; truth %g: held %t, want %t", x.got, x.u, x.want, holds, held)
		}
	}
}

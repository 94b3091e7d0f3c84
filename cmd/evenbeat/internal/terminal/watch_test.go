package terminal

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices"
	"evenbeat/devices/force"
	"evenbeat/devices/quantity"
)

// someone makes the lines of JSON in the tests, always at the same time.
func someone(clock string) render.Made { return render.Made{Clock: clock, Version: "v1"} }

// What a reference said of its time is told alike as text and as JSON.
func TestWatchTellsOfATime(t *testing.T) {
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	tests := []struct {
		told         devices.Time
		text, asJSON string
	}{
		{devices.Time{Valid: true}, "T12:00:00Z\n", `T12:00:00Z","at":`},
		{devices.Time{Valid: true, ByPulse: true}, "T12:00:00Z, by pulse\n", `T12:00:00Z","by_pulse":true,"at":`},
		{devices.Time{}, "T12:00:00Z, which the reference itself doubts\n", `T12:00:00Z","doubted":true,"at":`},
	}
	for _, tt := range tests {
		tt.told.Has, tt.told.Nanos = true, at.UnixNano()
		for asJSON, want := range map[bool]string{false: tt.text, true: tt.asJSON} {
			var out bytes.Buffer
			w := Watch{Streams: Streams{Out: &out, JSON: asJSON, Line: render.Lines(&out, someone)}}
			if err := w.Said([]devices.Said{{Kind: devices.KindTime, Time: tt.told}}); err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(out.String(), want) {
				t.Errorf("%+v: %q lacks %q", tt.told, out.String(), want)
			}
		}
	}
}

// What a gauge of force or torque shows has its unit, as text and as JSON.
func TestWatchTellsOfAForce(t *testing.T) {
	for _, tt := range []struct {
		sent, text, asJSON string
	}{
		{"12.5 N", " 12.5 N\n", `"force_n":12.5,`},
		{"1.2kgf", " 11.768 N\n", `"force_n":11.76798`},
		{"0 N", " 0 N\n", `"force_n":0,`},
		{"-500 Nmm", " −0.5 N·m\n", `"torque_nm":-0.5,`},
	} {
		said := force.TextForce().New(quantity.NoUnit).Decode(nil, devices.Chunk{Bytes: []byte(tt.sent + "\r\n")})
		for asJSON, want := range map[bool]string{false: tt.text, true: tt.asJSON} {
			var out bytes.Buffer
			w := Watch{Streams: Streams{Out: &out, JSON: asJSON, Line: render.Lines(&out, someone)}}
			if err := w.Said(said); err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(out.String(), want) || strings.Contains(out.String(), "value_m") {
				t.Errorf("%s: %q lacks %q", tt.sent, out.String(), want)
			}
		}
	}
}

package render

import (
	"bytes"
	"testing"
	"time"
)

// What was made comes last, and no mark in the findings is written another way.
func TestJSON(t *testing.T) {
	made := Made{Clock: "Hall", At: time.Date(2026, 3, 1, 9, 0, 0, 123456789, time.FixedZone("", 3600)), Version: "v1.2.3"}
	var out bytes.Buffer
	if err := JSON(&out, made, struct {
		Why string `json:"why"`
	}{"5 < 6"}); err != nil {
		t.Fatal(err)
	}
	if err := JSON(&out, Made{At: made.At, Version: "v1.2.3"}, struct{}{}); err != nil {
		t.Fatal(err)
	}
	const want = `{
  "why": "5 < 6",
  "clock": "Hall",
  "at": "2026-03-01T08:00:00.123Z",
  "version": "v1.2.3",
  "schema": 1
}
{
  "at": "2026-03-01T08:00:00.123Z",
  "version": "v1.2.3",
  "schema": 1
}
`
	if out.String() != want {
		t.Errorf("got %s\nwant %s", out.String(), want)
	}
	if err := JSON(&out, made, []int{1}); err == nil {
		t.Error("a list was written, which can't say who made it")
	}
}

// Of lines only the first says who made them.
func TestLines(t *testing.T) {
	var out bytes.Buffer
	line := Lines(&out, func(clock string) Made { return Made{Clock: clock, Version: "v1.2.3"} })
	for n := range 2 {
		if err := line("Hall", struct {
			N int `json:"n"`
		}{n}); err != nil {
			t.Fatal(err)
		}
	}
	const want = `{"n":0,"clock":"Hall","at":"0001-01-01T00:00:00Z","version":"v1.2.3","schema":1}
{"n":1}
`
	if out.String() != want {
		t.Errorf("got %s\nwant %s", out.String(), want)
	}
}

package simulate

import (
	"math"
	"strings"
	"testing"
	"time"
)

func TestHostClocks(t *testing.T) {
	h, err := NewHost(HostConfig{Start: benchStart, Steps: []Step{{100, 2}}, Sleeps: []Span{{200, 800}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		at, wall, mono time.Duration
		hears          bool
	}{
		{99 * time.Second, 99 * time.Second, 99 * time.Second, true},
		{100 * time.Second, 102 * time.Second, 100 * time.Second, true},
		{500 * time.Second, 502 * time.Second, 200 * time.Second, false},
		{900*time.Second + 7, 902*time.Second + 7, 300*time.Second + 7, true},
	} {
		got := h.Stamp(int64(c.at))
		if got.UTC != benchStart.Add(c.wall).UnixNano() || got.Mono != int64(c.mono) || h.Hears(int64(c.at)) != c.hears {
			t.Errorf("at %v: wall %v, mono %v, hears %v; want %v, %v, %v", c.at,
				time.Duration(got.UTC-benchStart.UnixNano()), time.Duration(got.Mono), h.Hears(int64(c.at)), c.wall, c.mono, c.hears)
		}
	}
	fast, err := NewHost(HostConfig{Start: benchStart, PPM: 50})
	if err != nil {
		t.Fatal(err)
	}
	// 50 ppm of a day is 4.32 s.
	if got := fast.Stamp(86400e9); got.Mono != 86404.32e9 || got.UTC != benchStart.UnixNano()+86404.32e9 {
		t.Errorf("50 ppm fast, after a day: %+v", got)
	}
}

func TestHostErrors(t *testing.T) {
	for _, c := range []struct {
		cfg  HostConfig
		want string
	}{
		{HostConfig{PPM: math.NaN()}, "clock NaN ppm off"},
		{HostConfig{Sleeps: []Span{{100, 200}, {150, 300}}}, "sleep from 150 to 300 s: must begin at 200 s or later"},
		{HostConfig{Steps: []Step{{0, math.Inf(1)}}}, "step of +Inf s at 0 s"},
	} {
		if _, err := NewHost(c.cfg); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("got %v, want %q", err, c.want)
		}
	}
}

//go:build unix

package live

import (
	"errors"
	"fmt"
	"iter"
	"os"
	"slices"
	"strings"
	"testing"

	"evenbeat/devices/port"
	"evenbeat/devices/pseudo"
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
	"evenbeat/sessions/recorder"
)

// plugged are so many ports of a computer, with the instrument's end of each.
func plugged(t *testing.T, n int) (ours []*os.File, all []port.Info) {
	t.Helper()
	for range n {
		instrument, far, err := pseudo.Terminal()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			if err := instrument.Close(); err != nil {
				t.Error(err)
			}
			if err := far.Close(); err != nil {
				t.Error(err)
			}
		})
		ours, all = append(ours, instrument), append(all, port.Info{Name: far.Name()})
	}
	return ours, all
}

// listening is a session of a plan at all of the ports, whose instruments nobody named.
func listening(t *testing.T, b Bench, p plan.Plan, all []port.Info) *Measuring {
	t.Helper()
	ins, err := b.Instrument("caliper")
	if err != nil {
		t.Fatal(err)
	}
	s := &Search{bench: b, expected: ins, o: SearchOptions{Port: "auto", Now: port.HostClock(), Wanted: MeasuresLengths}}
	if err := s.openAll(all, func(err error) { t.Error(err) }); err != nil {
		t.Fatal(err)
	}
	return b.NewMeasuring(MeasuringOptions{Clock: sessions.Clock{Name: "Hall"}, Progress: plan.Start(p), Inputs: s.Apart(), Now: port.HostClock()})
}

// Of four ports two have instruments that measure, one a beat sensor, and one is silent.
// Both are heard, each with a zero of its own, and the one that is used for the strip goes
// on there while the other is at the bore. Two of a kind are told apart.
func TestAutoHearsAll(t *testing.T) {
	spring := plan.Plan{Name: "spring", Part: "barrel", Steps: []plan.Step{
		{Dimension: "bore", Count: 3, Kind: sessions.Inside, Min: 5e-3, Max: 250e-3, Vary: 0.1e-3},
		{Dimension: "strip", Count: 3, Kind: sessions.Outside, Min: 0.06e-3, Max: 3e-3, Vary: 0.02e-3}}}
	for _, c := range []struct {
		name string // by which the second is told from the first
		line func(thousandths int) string
	}{
		{"digits52-hex", func(n int) string { return fmt.Sprintf("FFFF0%06d30\r\n", n) }},
		{"caliper-2", func(n int) string { return fmt.Sprintf("%.3fmm\r\n", float64(n)/1000) }},
	} {
		ours, all := plugged(t, 4)
		m, store := listening(t, onBench(t), spring, all), &memory{}
		beats, caliper, micrometer := ours[0], ours[1], ours[3]
		next, stop := iter.Pull(m.Subscribe(t.Context()))
		defer stop()
		done := make(chan error, 1)
		go func() { done <- m.Run(t.Context(), store) }()
		for _, turn := range []struct {
			from *os.File
			text string
			want string // what is told of
		}{
			{beats, "1000000\r\n1500100\r\n2000200\r\n2500300\r\n3000400\r\n3500500\r\n", "passed over"},
			{caliper, "0.01mm\r\n45.02mm\r\n", "caliper bore kept"},
			{micrometer, c.line(1) + c.line(402), c.name + " bore doubtful"},
			{micrometer, c.line(402), c.name + " strip kept"},
			{caliper, "45.00mm\r\n", "caliper bore kept"},
			{micrometer, c.line(404), c.name + " strip kept"}, // sent once
			{micrometer, c.line(1), "undone 7"},
			{micrometer, c.line(401), c.name + " strip kept"},
			{caliper, "0.00mm\r\n", "undone 8"},
			{caliper, "45.01mm\r\n", "caliper bore kept"},
			{micrometer, c.line(402) + c.line(401), c.name + " strip kept"},
		} {
			if _, err := turn.from.WriteString(turn.text); err != nil {
				t.Fatal(err)
			}
			for told := ""; !strings.Contains(told, turn.want); {
				e, ok := next()
				if !ok {
					t.Fatalf("%s: the session ended before it told of %q", c.name, turn.want)
				}
				switch e.Kind {
				case Warning:
					told = e.Warning
				case recorder.Kept, recorder.Doubtful:
					told = fmt.Sprintf("%s %s %s", e.Reading.Instrument, e.Reading.Dimension, e.Reading.State)
				case recorder.Undone:
					told = fmt.Sprintf("undone %d", e.Undone)
				}
			}
		}
		if err := <-done; err != nil {
			t.Errorf("%s: %v; the port of another kind is no fault of the session", c.name, err)
		}
		want := []At{{all[1].Name, "caliper"}, {all[3].Name, c.name}}
		if s := m.State(); !slices.Equal(s.Heard, want) || len(s.Left.Wanted) > 0 {
			t.Errorf("heard %v, want %v; left %q", s.Heard, want, s.Left.Wanted)
		}
	}
}

// Where no port has an instrument that measures, the session ends, and says where to look.
func TestAutoHearsNone(t *testing.T) {
	ours, all := plugged(t, 2)
	m, store := listening(t, onBench(t), bores(2), all), &memory{}
	for _, f := range ours {
		if _, err := f.WriteString("1000000\r\n1500100\r\n2000200\r\n2500300\r\n3000400\r\n3500500\r\n"); err != nil {
			t.Fatal(err)
		}
	}
	err := m.Run(t.Context(), store)
	if _, ok := errors.AsType[*CallError](err); !ok || len(m.State().Warnings) != 2 || len(store.sessions) != 0 {
		t.Errorf("got %v, warnings %q, %d sessions; want the caller's fault, each port told, none begun", err, m.State().Warnings, len(store.sessions))
	}
}

// A book that begins no session lets go of all the ports, whether they were heard or not.
func TestAutoLetsGo(t *testing.T) {
	ours, all := plugged(t, 3)
	m := listening(t, onBench(t), bores(2), all)
	if _, err := ours[1].WriteString("45.02mm\r\n45.03mm\r\n"); err != nil {
		t.Fatal(err)
	}
	if err := m.Run(t.Context(), &memory{full: errBroken}); !errors.Is(err, errBroken) {
		t.Errorf("got %v, want %v", err, errBroken)
	}
	for _, p := range all {
		again, err := port.Open(p.Name, port.Options{})
		if err != nil {
			t.Errorf("still held: %v", err)
			continue
		}
		if err := (Input{Source: again}).Close(t.Context()); err != nil {
			t.Error(err)
		}
	}
}

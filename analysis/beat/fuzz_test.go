package beat

import (
	"encoding/binary"
	"math"
	"testing"

	"evenbeat/sessions"
)

// No counts and stamps whatever make a panic, or a figure that is no number.
func FuzzAnalyser(f *testing.F) {
	seed := func(c clock) {
		ev, _, _ := c.hear()
		var b []byte
		for _, e := range ev[:min(len(ev), 300)] {
			b = binary.LittleEndian.AppendUint32(b, uint32(e.t*1e6))
		}
		f.Add(b, uint8(1))
		f.Add(b, uint8(6))
	}
	seed(clock{interval: 0.5, beats: 250, jitter: 1e-3, missed: 0.1, spurious: 0.1})
	seed(clock{interval: 1, beats: 200, jitter: 1e-4, stops: [][2]float64{{60, 20}}})
	f.Add(make([]byte, 800), uint8(3))
	f.Fuzz(func(t *testing.T, data []byte, how uint8) {
		o := Options{CountRate: 1e6, CountBits: 32, Stamped: how&1 == 0, Arbors: []Arbor{{Index: 1, Name: "third", BeatsPerTurn: 97.5}, {Index: 2, Name: "escape", BeatsPerTurn: 12}}}
		if how&2 != 0 {
			o.NominalInterval = 0.5
		}
		if how&4 != 0 {
			o.CountBits = 0
		}
		a, err := NewAnalyser(o)
		if err != nil {
			t.Fatal(err)
		}
		mono := int64(0)
		for len(data) >= 4 {
			v := binary.LittleEndian.Uint32(data)
			data = data[4:]
			mono += int64(v) * 1000
			a.Add([]sessions.Beat{{Count: uint64(v), HostMono: mono, HostUTC: mono - int64(v), Edge: int16(v >> 30 & 1), Break: v%251 == 0}})
			if v%64 == 0 {
				check(t, a)
			}
		}
		a.Close()
		check(t, a)
	})
}

func check(t *testing.T, a *Analyser) {
	r, err := a.Result()
	if err != nil {
		return
	}
	figures := []float64{r.Rate.V, r.Rate.U, r.Rate.Low95(), r.Rate.High95(), r.IntervalS, r.BeatsPerHour, r.TickTock.V, r.TickTock.U,
		r.BeatError.V, r.BeatError.U, r.DurationS, r.TimeBase.OffsetPPM.V, r.TimeBase.OffsetPPM.U}
	for _, w := range r.Wheels {
		figures = append(figures, w.Amplitude.V, w.Amplitude.U)
	}
	for _, s := range r.Stability {
		figures = append(figures, s.ADev, s.Low, s.High)
	}
	for _, p := range r.Trace {
		figures = append(figures, p.TimeS, p.ResidualS)
	}
	for _, p := range r.Fold {
		figures = append(figures, p.ResidualS.V, p.ResidualS.U)
	}
	for i, v := range figures {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("figure %d is %v in %+v", i, v, r.Rate)
		}
	}
	if r.Beats < 0 || r.Missed < 0 || r.Spurious < 0 || r.Beats+r.Spurious > a.numbers.Tally().Events {
		t.Errorf("%d beats, %d missed, %d spurious of %d events", r.Beats, r.Missed, r.Spurious, a.numbers.Tally().Events)
	}
}

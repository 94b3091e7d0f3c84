package recorder

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/rs/zerolog"

	"evenbeat/devices"
	"evenbeat/sessions"
)

func airAt(ms int64, a devices.Air) devices.Said {
	return devices.Said{Kind: devices.KindAir, At: stamp(ms), Text: "as sent", Air: a}
}

func warm(c float64) devices.Air { return devices.Air{TemperatureC: c, HasTemperature: true} }

// The samples of a minute become one row: the mean of those that have a thing, at the mean
// of their times. So the integral over the time is that of the samples.
func TestAirIsThinned(t *testing.T) {
	store := &memory{}
	var told []Event
	r := timingOn(store, &told)
	in := make(chan []devices.Said, 1)
	in <- []devices.Said{
		airAt(10_000, devices.Air{TemperatureC: 20, HasTemperature: true, PressureHPa: 1013, HasPressure: true}),
		airAt(20_000, devices.Air{TemperatureC: 21, HasTemperature: true, HumidityPct: 40, HasHumidity: true}),
		airAt(45_000, warm(20.1)),
		airAt(60_000, warm(22)),                            // the next minute's
		airAt(200_000, warm(23)), airAt(190_000, warm(24)), // the host's clock was put back
		airAt(130_000, warm(25)),
	}
	close(in)
	if err := r.Run(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	want := []sessions.Air{
		{At: noon.Add(25 * time.Second), TemperatureC: 20.3667, HasTemperature: true, PressureHPa: 1013, HasPressure: true, HumidityPct: 40, HasHumidity: true},
		{At: noon.Add(60 * time.Second), TemperatureC: 22, HasTemperature: true},
		{At: noon.Add(195 * time.Second), TemperatureC: 23.5, HasTemperature: true},
		{At: noon.Add(130 * time.Second), TemperatureC: 25, HasTemperature: true},
	}
	var samples []int
	for i := range want {
		want[i].ClockID = 2
		if i < len(told) {
			samples = append(samples, told[i].Times)
		}
	}
	if d := cmp.Diff(want, store.air) + cmp.Diff([]int{3, 1, 2, 1}, samples); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A row is on the disk a span of time after its first sample, though none follows; and one
// that the session ends in is kept too.
func TestAirOfASilentSensor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &memory{}
		r := &Timing{Store: store, Session: sessions.Session{ID: 1, ClockID: 2, Started: noon}, AirEvery: 10 * time.Minute, Log: zerolog.Nop()}
		ctx, stop := context.WithCancel(t.Context())
		in, done := make(chan []devices.Said), make(chan error, 1)
		go func() { done <- r.Run(ctx, in) }()
		in <- []devices.Said{airAt(0, warm(20)), airAt(1000, warm(22))}
		time.Sleep(10*time.Minute - time.Second)
		synctest.Wait()
		if got := store.rows(); len(got) != 0 {
			t.Errorf("%d rows before the span was over", len(got))
		}
		time.Sleep(time.Second)
		synctest.Wait()
		if got := store.rows(); len(got) != 1 || got[0].TemperatureC != 21 {
			t.Errorf("after the span: %+v", got)
		}
		in <- []devices.Said{airAt(900_000, warm(25))}
		stop()
		if err := <-done; err != nil || len(store.air) != 2 {
			t.Errorf("at the end: %v, %+v", err, store.air)
		}
	})
}

// What no room has, or was measured when no book could have been written, is a fault with
// its text and enters no mean.
func TestImplausibleAirIsAFault(t *testing.T) {
	store := &memory{}
	var told []Event
	in := make(chan []devices.Said, 1)
	old := airAt(0, warm(20))
	old.At.UTC = time.Date(1800, 1, 1, 0, 0, 0, 0, time.UTC).UnixNano()
	in <- []devices.Said{airAt(0, warm(20)), airAt(1, warm(999)), airAt(2, devices.Air{}), old}
	close(in)
	if err := timingOn(store, &told).Run(t.Context(), in); err != nil {
		t.Fatal(err)
	}
	if len(store.air) != 1 || store.air[0].TemperatureC != 20 {
		t.Errorf("air %+v", store.air)
	}
	if n := len(store.faults); n == 0 || store.faults[0].Kind != "range" || store.faults[0].Text != "as sent: temperature 999 °C: no room has such air: must be from -60 to 100" {
		t.Errorf("faults %+v", store.faults)
	}
	n := 0
	for _, e := range told {
		if e.Kind == Faulty {
			n += e.Times
		}
	}
	if n != 3 {
		t.Errorf("%d faults told, want 3", n)
	}
}

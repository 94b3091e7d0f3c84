package simulate

import (
	"fmt"
	"math"
	"testing"

	"evenbeat/devices"
)

func TestAppendAir(t *testing.T) {
	for _, c := range []struct {
		air  devices.Air
		want string
	}{
		{devices.Air{TemperatureC: 21.44, PressureHPa: 1013.16, HumidityPct: 45.4, HasTemperature: true, HasPressure: true, HasHumidity: true}, "21.4C 1013.2hPa 45%\r\n"},
		{devices.Air{TemperatureC: -0.26, HasTemperature: true}, "-0.3C\r\n"},
		{devices.Air{PressureHPa: 980, HumidityPct: 60, HasPressure: true, HasHumidity: true}, "980.0hPa 60%\r\n"},
	} {
		if got := string(AppendAir([]byte("x"), c.air)); got != "x"+c.want {
			t.Errorf("got %q, want %q", got[1:], c.want)
		}
	}
}

func TestAirLinesTellTheRoom(t *testing.T) {
	c := newClock(t, nil)
	n := 0
	for at, line := range c.AirLines(day, 2*day, 600) {
		var temp, hPa, hum float64
		if _, err := fmt.Sscanf(string(line), "%fC %fhPa %f%%\r\n", &temp, &hPa, &hum); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		air := c.Air(float64(at) * 1e-9)
		if at != int64((day+600*float64(n))*1e9) || math.Abs(temp-air.TemperatureC) > 0.0501 ||
			math.Abs(hPa-air.PressureHPa) > 0.0501 || math.Abs(hum-air.HumidityPct) > 0.501 {
			t.Fatalf("at %d ns: %q, truth %+v", at, line, air)
		}
		n++
	}
	if n != 144 {
		t.Errorf("%d samples in a day of ten minutes each, want 144", n)
	}
	for range c.AirLines(0, day, 0) {
		t.Fatal("a sample every 0 s")
	}
}

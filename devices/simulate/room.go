package simulate

import (
	"math"
	"math/rand/v2"
)

// Room is the air around the clock: a base, a daily cycle, a drift over the days, and
// weather. The figures are invented but plausible for a lived-in room.
type Room struct {
	TemperatureC float64 // mean at the start
	DailyK       float64 // half the daily swing of temperature
	DriftKPerDay float64 // warming at the start; it reverses within three months
	WeatherK     float64 // standard deviation of temperature from the weather
	PressureHPa  float64 // mean
	WeatherHPa   float64 // standard deviation of pressure from the weather
	HumidityPct  float64 // mean
}

// Correlation times of the weather, in seconds: fronts come every few days and take
// hours to pass.
const (
	weatherTime = 2 * day
	frontTime   = 6 * 3600.0
	// seasonTime is the period of the drift. It is nearly a straight line for a week,
	// yet no room warms for a year.
	seasonTime = 90 * day
)

// weather makes values of unit standard deviation, one for each edge of a cell: an
// Ornstein-Uhlenbeck process smoothed by a second lag, since pressure doesn't jump from
// one minute to the next.
type weather struct{ fast, slow, norm, keepFast, keepSlow float64 }

func newWeather(g *rand.Rand) *weather {
	w := &weather{
		keepFast: math.Exp(-cell / weatherTime),
		keepSlow: math.Exp(-cell / frontTime),
		// A lag b leaves a/(a+b) of the variance of a process with correlation time a.
		norm: math.Sqrt((weatherTime + frontTime) / weatherTime),
	}
	w.fast = g.NormFloat64()
	w.slow = w.fast / w.norm
	return w
}

func (w *weather) next(g *rand.Rand) float64 {
	now := w.slow * w.norm
	w.slow = w.keepSlow*w.slow + (1-w.keepSlow)*w.fast
	w.fast = w.keepFast*w.fast + math.Sqrt(1-w.keepFast*w.keepFast)*g.NormFloat64()
	return now
}

// fill sets temperature, pressure and humidity at each edge of a cell.
func (r Room) fill(seed uint64, temp, hPa, hum []float64) {
	g := source(seed, streamRoom)
	heat, press, damp := newWeather(g), newWeather(g), newWeather(g)
	for i := range temp {
		t := float64(i) * cell
		// Warmest at four in the afternoon if the scene starts at ten.
		cycle := r.DailyK * math.Sin(2*math.Pi*t/day)
		drift := r.DriftKPerDay / day * seasonTime / (2 * math.Pi) * math.Sin(2*math.Pi*t/seasonTime)
		temp[i] = r.TemperatureC + drift + cycle + r.WeatherK*heat.next(g)
		hPa[i] = r.PressureHPa + r.WeatherHPa*press.next(g)
		// Warmer air of the same water is drier: about 6 % of the humidity a kelvin
		// near room temperature (common practice, no source).
		h := r.HumidityPct*(1-0.06*(temp[i]-r.TemperatureC)) + 4*damp.next(g)
		hum[i] = min(95, max(5, h))
	}
}

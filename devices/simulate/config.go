package simulate

import (
	"fmt"
	"math"
	"slices"
)

// Wheel is a periodic error of one arbor of the train, as the beat shows it.
type Wheel struct {
	Beats     float64 // beats to one turn of the arbor (or to one of its harmonics)
	Amplitude float64 // s
	Phase     float64 // radians
}

// Span is a stretch of time in seconds since the start.
type Span struct{ From, To float64 }

// Turn is a turn of the rating nut.
type Turn struct {
	At    float64 // s since the start
	Turns float64 // plus = made to gain
}

// Delay is how late the host hears of an event, in seconds: Least plus an exponential
// part of the given Mean, together never more than Most.
type Delay struct{ Least, Mean, Most float64 }

// Gate is a light gate where the pendulum hangs at rest: a flag of the given width, at
// a distance from the pivot, both in metres. Each beat then gives two edges.
type Gate struct{ Flag, Distance float64 }

// ClockConfig describes a simulated clock and its sensor. Times are seconds since the
// start, angles radians. What is done to the clock (winding, nut, stops) happens on
// whole minutes: other times are rounded to the nearest.
type ClockConfig struct {
	Seed         uint64
	Span         float64 // s, how long the scene lasts
	BeatsPerHour float64

	// Rate is in s/day, plus = gains, at 20 °C, 1013.25 hPa and full wind.
	Rate float64
	// Temperature is in s/day per kelvin of the rod, which follows the air with a
	// time constant of RodLag seconds.
	Temperature float64
	RodLag      float64
	// Pressure is in s/day per hPa.
	Pressure float64
	// Walk is the random walk of the rate: its standard deviation after one day,
	// in s/day. It takes a step a minute.
	Walk float64

	Amplitude float64   // semi-amplitude at full wind
	TorqueEnd float64   // share of the full torque left when the spring has run down, 0 < TorqueEnd ≤ 1
	Run       float64   // s of going from full wind; the clock then stops until it is wound
	Wound     []float64 // times of winding; the last before the start is negative
	Nut       float64   // s/day per turn
	Turns     []Turn
	Stops     []Span // the clock stands, and its dial with it

	// Offset is the angle from the middle of the swing at which the escapement acts.
	Offset float64
	// Jitter is the white scatter of each event, Flicker the scatter of each octave of
	// a 1/f noise of phase; both are standard deviations in s. (The one-sided spectrum
	// of the latter is Flicker²/ln 2 over the frequency, since an octave of it holds
	// Flicker².)
	Jitter, Flicker float64
	Wheels          []Wheel

	Missed float64 // share of beats that are not heard
	Echo   float64 // share of beats followed by an echo 3 to 30 ms later
	Knock  float64 // share of beats with a knock anywhere until the next
	Gate   Gate    // the zero value: one event a beat

	CountRate    float64   // counts a second, nominal
	CountBits    int       // 16, 24, 32 or 64
	ResonatorPPM float64   // how much faster than nominal the sensor counts
	Resets       []float64 // times at which the counter starts anew from 0
	Delay        Delay

	Room Room
	// DialReading is the scatter of reading the dial against a reference, a standard
	// deviation in s. DialStart is the dial's error at the start, plus = fast.
	DialReading, DialStart float64
}

// EvenClock is a seconds pendulum in a lived-in room for eight days, at one steady
// rate, heard by a perfect sensor through a prompt line. Nothing scatters, wanders,
// bends or gets lost: add the one fault that is to be found. The figures here and in
// DefaultClock are invented, but for the coefficients, whose sources stand beside
// them.
func EvenClock(seed uint64) ClockConfig {
	return ClockConfig{
		Seed: seed, Span: 8 * day, BeatsPerHour: 3600,
		Rate: 6, RodLag: 1200,
		Amplitude: Degrees(2.6), TorqueEnd: 1, Run: 8.5 * day, Wound: []float64{0},
		Nut:       -RodCoefficient(0.0005 / 0.994), // half a millimetre a turn
		CountRate: 1e6, CountBits: 32,
		Room: Room{TemperatureC: 19.5, DailyK: 1.5, DriftKPerDay: 0.2, WeatherK: 0.8,
			PressureHPa: 1013, WeatherHPa: 8, HumidityPct: 48},
	}
}

// DefaultClock is EvenClock with the faults of an honest clock on a steel rod and a
// cheap sensor.
func DefaultClock(seed uint64) ClockConfig {
	c := EvenClock(seed)
	// Steel, 11.5·10⁻⁶ per K: Goodrich, The Modern Clock, has 10.34 to 11.62.
	c.Temperature = RodCoefficient(11.5e-6)
	// 0.37 s/day per inch of mercury: Encyclopædia Britannica, 11th ed., "Clock".
	c.Pressure = -0.37 / 33.8639
	c.Walk, c.TorqueEnd = 0.15, 0.55
	c.Offset, c.Jitter = Degrees(0.08), 80e-6
	c.Wheels = []Wheel{{Beats: 60, Amplitude: 400e-6, Phase: 1}}
	c.Missed, c.Echo, c.Knock = 0.01, 0.003, 0.002
	c.ResonatorPPM, c.Delay = 3000, Delay{Least: 100e-6, Mean: 800e-6, Most: 16e-3}
	c.DialReading = 0.1
	return c
}

// maxSpan is ten years: the grid of minutes then takes some 400 MB.
const maxSpan = 3660 * day

// check refuses what no clock could be, in the order of the fields.
func (c ClockConfig) check() error {
	for _, r := range []struct {
		name            string
		value, low, top float64
	}{
		{"span (s)", c.Span, cell, maxSpan},
		{"beats per hour", c.BeatsPerHour, 360, 72000},
		{"rate (s/day)", c.Rate, -5000, 5000},
		{"temperature coefficient (s/day/K)", c.Temperature, -50, 50},
		{"rod lag (s)", c.RodLag, 0, 10 * day},
		{"pressure coefficient (s/day/hPa)", c.Pressure, -5, 5},
		{"walk (s/day)", c.Walk, 0, 500},
		{"amplitude (rad)", c.Amplitude, Degrees(0.1), maxAmplitude},
		{"torque at the end", c.TorqueEnd, 0.05, 1},
		{"run (s)", c.Run, 60, maxSpan},
		{"nut (s/day a turn)", c.Nut, -1000, 1000},
		{"offset (rad)", c.Offset, -c.Amplitude / 2, c.Amplitude / 2},
		{"jitter (s)", c.Jitter, 0, c.Interval() / 10},
		{"flicker (s)", c.Flicker, 0, c.Interval() / 50},
		{"missed", c.Missed, 0, 0.9},
		{"echo", c.Echo, 0, 0.9},
		{"knock", c.Knock, 0, 0.9},
		{"flag (m)", c.Gate.Flag, 0, 0.1},
		{"gate's distance (m)", c.Gate.Distance, 0, 10},
		{"count rate (1/s)", c.CountRate, 1, 1e9},
		{"resonator (ppm)", c.ResonatorPPM, -1e5, 1e5},
		{"least delay (s)", c.Delay.Least, 0, 1},
		{"mean delay (s)", c.Delay.Mean, 0, 1},
		{"most delay (s)", c.Delay.Most, c.Delay.Least, 10},
		{"reading of the dial (s)", c.DialReading, 0, 100},
		{"dial at the start (s)", c.DialStart, -day, day},
		{"temperature (°C)", c.Room.TemperatureC, -30, 60},
		{"daily swing (K)", c.Room.DailyK, 0, 30},
		{"drift (K/day)", c.Room.DriftKPerDay, -10, 10},
		{"weather (K)", c.Room.WeatherK, 0, 15},
		{"pressure (hPa)", c.Room.PressureHPa, 500, 1100},
		{"weather (hPa)", c.Room.WeatherHPa, 0, 30},
		{"humidity (%)", c.Room.HumidityPct, 0, 100},
	} {
		if !(r.value >= r.low && r.value <= r.top) {
			return fmt.Errorf("simulated clock: %s is %g: must be from %g to %g", r.name, r.value, r.low, r.top)
		}
	}
	if !slices.Contains([]int{16, 24, 32, 64}, c.CountBits) {
		return fmt.Errorf("simulated clock: counter of %d bits: must be 16, 24, 32 or 64", c.CountBits)
	}
	return c.checkLists()
}

func (c ClockConfig) checkLists() error {
	shift := 0.0
	for _, w := range c.Wheels {
		if !(w.Beats >= 2 && w.Beats <= 1e9) || !(w.Amplitude >= 0) || !finite(w.Phase) {
			return fmt.Errorf("simulated clock: wheel of %g beats, amplitude %g s, phase %g: beats must be 2 or more, amplitude 0 or more", w.Beats, w.Amplitude, w.Phase)
		}
		shift += w.Amplitude
	}
	if !(shift <= c.Interval()/5) {
		return fmt.Errorf("simulated clock: wheel errors of %g s together: must stay under a fifth of the interval, %g s", shift, c.Interval()/5)
	}
	if c.Gate.Flag > 0 && !(c.Gate.Distance > c.Gate.Flag) {
		return fmt.Errorf("simulated clock: flag of %g m at %g m from the pivot: must be farther out than it is wide", c.Gate.Flag, c.Gate.Distance)
	}
	times := slices.Concat(c.Wound, c.Resets)
	for _, s := range c.Stops {
		if !(s.To > s.From) {
			return fmt.Errorf("simulated clock: stop from %g to %g s: must end after it begins", s.From, s.To)
		}
		times = append(times, s.From, s.To)
	}
	for _, t := range c.Turns {
		if !(math.Abs(t.Turns) <= 100) {
			return fmt.Errorf("simulated clock: %g turns of the nut: must be from -100 to 100", t.Turns)
		}
		times = append(times, t.At)
	}
	for _, t := range times {
		if !(math.Abs(t) <= maxSpan) {
			return fmt.Errorf("simulated clock: event at %g s: must be within %g s of the start", t, maxSpan)
		}
	}
	return nil
}

// Interval returns the nominal beat interval in seconds.
func (c ClockConfig) Interval() float64 { return 3600 / c.BeatsPerHour }

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

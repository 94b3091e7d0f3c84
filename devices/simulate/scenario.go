package simulate

import (
	"fmt"
	"iter"
	"math"
	"time"

	"evenbeat/devices/quantity"
)

// Scenario is one invented clock on one invented bench: what it is made of, how it
// goes, and what it is measured with. No such clock exists.
//
// The barrel has a bore of 45 mm, the arbor 15 mm, the strip 0.40 mm by 1700 mm. The
// free area is π/4·(45² − 15²) = 1413.7 mm², of which the strip takes 680 mm². So the
// fill is 0.481, and 8.84 turns can be wound. In the train 96/16, 60/15, 80/10, 75/10,
// 30 the second arbor turns 6 times as fast as the barrel, and the hour arbor 4 times as
// fast again. So the barrel turns once in 24 hours, and the spring carries the clock
// 8.84 days: a week takes 7 turns and leaves 1.84. For each turn of the hour arbor the
// escape wheel makes 80/10 × 75/10 = 60, each of 30 teeth and 60 beats: 3600 an hour.
// The seeds vary the sizes by a per cent or two.
type Scenario struct {
	Name       string
	Train      string
	HourArbor  int
	Rod        string
	NutPitch   float64 // m a turn
	BarrelTurn float64 // s
	Start      time.Time
	Barrel     Barrel
	Caliper    CaliperConfig
	Micrometer CaliperConfig
	Clock      ClockConfig
}

// Sizes of the scenario that no seed changes.
const (
	barrelTurn = 24 * 3600.0
	nutPitch   = 0.5e-3
	// pendulum is the length of a seconds pendulum at latitude 45°, metres: g/π²
	// of GRS80 (constants from memory).
	pendulum = 0.993576
)

// NewScenario returns the scenario of a seed for the given number of days, 1 to 366. The
// clock was last wound three days before the start and is wound each week, so that the
// arc falls and is restored within the first week.
func NewScenario(seed uint64, days int) (Scenario, error) {
	if days < 1 || days > 366 {
		return Scenario{}, fmt.Errorf("scenario of %d days: must be from 1 to 366", days)
	}
	g := source(seed, streamScene)
	even := func(mid, half float64) float64 { return mid + half*(2*g.Float64()-1) }
	sign := func() float64 { return math.Copysign(1, g.Float64()-0.5) }
	s := Scenario{
		Name: "Marsh Lane regulator", Train: "96/16,60/15,80/10,75/10,30", HourArbor: 3,
		Rod: "steel", NutPitch: nutPitch, BarrelTurn: barrelTurn,
		Start:   time.Date(2025, time.March, 5, 10, 0, 0, 0, time.UTC),
		Barrel:  newBarrel(seed),
		Caliper: DefaultCaliper(seed), Micrometer: DefaultMicrometer(seed + 1),
	}
	c := DefaultClock(seed)
	c.Span = float64(days)*day + 3600 // an hour more, for a last timing that begins at the end
	c.Rate = even(0, 12)
	c.Run = s.Barrel.Turns() * barrelTurn
	c.Wound = nil
	for t := -3 * day; t < c.Span; t += 7 * day {
		c.Wound = append(c.Wound, t)
	}
	c.Nut = day / 2 * nutPitch / pendulum
	c.Offset = sign() * Degrees(even(0.08, 0.04))
	c.ResonatorPPM = sign() * even(3000, 500)
	c.Wheels = []Wheel{{Beats: 60, Amplitude: even(400e-6, 100e-6), Phase: even(0, math.Pi)}}
	c.Room.TemperatureC = even(19.5, 1.5)
	c.Room.DriftKPerDay = even(0, 0.3)
	c.Room.PressureHPa = even(1013, 5)
	c.DialStart = even(0, 20)
	s.Clock = c
	return s, nil
}

func newBarrel(seed uint64) Barrel {
	g := source(seed, streamBarrel)
	even := func(mid, half float64) float64 { return mid + half*(2*g.Float64()-1) }
	return Barrel{
		Bore: even(45.0e-3, 0.15e-3), Arbor: even(15.0e-3, 0.1e-3),
		BoreOval: even(30e-6, 20e-6), ArborOval: even(15e-6, 10e-6), OvalAt: even(0, math.Pi/2),
		Inside: even(21.0e-3, 0.1e-3),
		Strip:  even(0.400e-3, 0.006e-3), Taper: even(0, 3e-6),
		Height: even(20.0e-3, 0.1e-3), HeightTaper: even(0, 20e-6),
		Length: even(1.700, 0.030),
	}
}

// Presses yields the readings of a mainspring in the order in which a clockmaker takes
// them: closed jaws, bore at three angles 60° apart, inside depth, arbor at two angles
// 90° apart, strip at five places (by caliper or, if fine, by micrometer), height at
// three. The length is measured along a rule and typed: see TypedLength.
func (s Scenario) Presses(fine bool) iter.Seq[Press] {
	return func(yield func(Press) bool) {
		list := []Press{{Dimension: "zero"}}
		for i := range 3 {
			list = append(list, Press{"bore", s.Barrel.BoreAt(float64(i) * math.Pi / 3), Inside, false})
		}
		list = append(list, Press{"depth", s.Barrel.Inside, Depth, false})
		for i := range 2 {
			list = append(list, Press{"arbor", s.Barrel.ArborAt(float64(i) * math.Pi / 2), Outside, false})
		}
		for i := range 5 {
			list = append(list, Press{"strip", s.Barrel.StripAt(float64(i) / 4), Outside, fine})
		}
		for i := range 3 {
			list = append(list, Press{"height", s.Barrel.HeightAt(float64(i) / 2), Outside, false})
		}
		for _, p := range list {
			if !yield(p) {
				return
			}
		}
	}
}

// TypedLength returns the strip's length as read off a rule, to 5 mm, and the
// limit of error that goes with it: "1700±5mm".
func (s Scenario) TypedLength() string {
	mm := math.Round(s.Barrel.Length/quantity.Millimetre.Metres()/5) * 5
	return fmt.Sprintf("%.0f±5mm", mm)
}

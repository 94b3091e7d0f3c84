// Package configs holds the settings: what each key means, how a file, the environment and
// flags set it, and the instrument profiles and measuring plans, both built in and the
// user's own.
//
// It is strict: an unknown key, a value of the wrong kind or one out of its range is an error
// that names the place and the remedy. The rest of the program gets a plain struct.
package configs

import (
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
	_ "time/tzdata" // for systems that ship no table of zones

	"evenbeat/devices/quantity"
)

// Settings is what is in force, in the units that the fields' names give.
type Settings struct {
	Book     string   `mapstructure:"book"`
	KeepRaw  bool     `mapstructure:"keep_raw"`
	Copies   float64  `mapstructure:"copies"`
	Units    string   `mapstructure:"units"`
	Zone     string   `mapstructure:"zone"`
	Ports    []string `mapstructure:"ports"`
	Log      Log      `mapstructure:"log"`
	Typed    Typed    `mapstructure:"typed"`
	Check    Check    `mapstructure:"check"`
	Host     Host     `mapstructure:"host"`
	Spring   Spring   `mapstructure:"spring"`
	Pivot    Pivot    `mapstructure:"pivot"`
	Wheel    Wheel    `mapstructure:"wheel"`
	Pendulum Pendulum `mapstructure:"pendulum"`
}

// Log says what is logged.
type Log struct {
	Level string `mapstructure:"level"`
}

// Typed is what is assumed of lengths that are typed without an uncertainty.
type Typed struct {
	LimitMM float64 `mapstructure:"limit_mm"`
}

// Check is what is assumed of a comparison of the dial with a reference.
type Check struct {
	LimitS float64 `mapstructure:"limit_s"`
}

// Host says how good the clock of the computer that listens is.
type Host struct {
	LimitPPM float64 `mapstructure:"limit_ppm"`
}

// Spring holds the limits by which a mainspring is judged.
type Spring struct {
	FillLow        float64 `mapstructure:"fill_low"`
	FillHigh       float64 `mapstructure:"fill_high"`
	ArborLow       float64 `mapstructure:"arbor_low"`
	ArborHigh      float64 `mapstructure:"arbor_high"`
	ArborOverStrip float64 `mapstructure:"arbor_over_strip"`
	FreeDiameter   float64 `mapstructure:"free_diameter"`
	EndFloatLowMM  float64 `mapstructure:"end_float_low_mm"`
	EndFloatHighMM float64 `mapstructure:"end_float_high_mm"`
	AllowanceTurns float64 `mapstructure:"allowance_turns"`
	ModulusGPa     float64 `mapstructure:"modulus_gpa"`
	ModulusUGPa    float64 `mapstructure:"modulus_u_gpa"`
}

// Pivot holds the limits by which a pivot in its bush is judged.
type Pivot struct {
	ClearanceLow float64 `mapstructure:"clearance_low"`
	ClearanceHi  float64 `mapstructure:"clearance_high"`
	OutOfRoundMM float64 `mapstructure:"out_of_round_mm"`
	TaperMM      float64 `mapstructure:"taper_mm"`
}

// Wheel holds the limits by which a wheel and its pinion are judged.
type Wheel struct {
	ModuleApart float64 `mapstructure:"module_apart"`
}

// Pendulum says where the clock stands, for the gravity there. A nil pointer means not given.
type Pendulum struct {
	LatitudeDeg  *float64 `mapstructure:"latitude_deg"`
	HeightM      float64  `mapstructure:"height_m"`
	GravityMS2   *float64 `mapstructure:"gravity_m_s2"`
	GravityUMGal float64  `mapstructure:"gravity_u_mgal"`
}

// A key is one setting: its default, its range, and what it means.
type key struct {
	name      string
	def       any // string, bool, float64 or []string; nil for an optional number
	low, high float64
	whole     bool // no fractions
	unit      string
	choices   []string // the texts allowed; "" means not given
	meaning   string
}

// keys lists the settings in the order in which they are shown. The ranges of a lower and an
// upper limit meet but don't overlap, so that no pair can be the wrong way round. Limits
// without a source are common practice.
func keys() []key {
	return []key{
		{name: "book", def: "", meaning: "file that holds the record; from a settings file, relative to that file"},
		{name: "keep_raw", def: false, meaning: "keep the bytes of every measuring and timing session too, in a folder beside the book, so that replay can play them"},
		{name: "copies", def: 7.0, low: 0, high: 366, whole: true, meaning: "how many daily copies of the book are kept in a folder beside it (book.copies beside book.db); the first measuring or timing session of a day makes one; 0: none are made"},
		{name: "units", def: "", choices: []string{"", "mm", "in", "both"}, meaning: "units of lengths as written; mm or in is also taken for lengths typed without a unit"},
		{name: "zone", def: "", meaning: "zone for times without an offset, like Europe/Paris; empty: the system's"},
		{name: "ports", def: []string(nil), meaning: "list of device paths that are ports too, beside those that this computer lists: a virtual port, one of a network adaptor"},
		{name: "log.level", def: "warn", choices: []string{"trace", "debug", "info", "warn", "error", "disabled"}, meaning: "what is logged to standard error"},
		{name: "typed.limit_mm", def: 0.02, low: 1e-4, high: 10, unit: "mm", meaning: "± limit of error assumed of lengths typed without one (that of a caliper, DIN 862)"},
		{name: "check.limit_s", def: 0.5, low: 1e-3, high: 60, unit: "s", meaning: "± limit of error assumed of a dial read by eye (common practice, no source)"},
		{name: "host.limit_ppm", def: 50.0, low: 0.01, high: 500, unit: "ppm", meaning: "± limit of error of the clock of the computer that listens, while neither a time service nor a reference tells better (crystals as sold: common practice, no source)"},
		{name: "spring.fill_low", def: 0.40, low: 0.05, high: 0.5, meaning: "share of the barrel's space below which a spring is short (80 % of the half-space length)"},
		{name: "spring.fill_high", def: 0.60, low: 0.5, high: 0.95, meaning: "share of the barrel's space above which a spring is long (common practice, no source)"},
		{name: "spring.arbor_low", def: 0.24, low: 0.05, high: 1.0 / 3, meaning: "smallest arbor, as a share of the bore (a third is the rule; the margin is common practice)"},
		{name: "spring.arbor_high", def: 0.40, low: 1.0 / 3, high: 0.9, meaning: "largest arbor, as a share of the bore (a third is the rule; the margin is common practice)"},
		{name: "spring.arbor_over_strip", def: 20.0, low: 1, high: 200, meaning: "smallest arbor, in thicknesses of the strip (common practice, no source)"},
		{name: "spring.free_diameter", def: 2.0, low: 1, high: 10, meaning: "least diameter of the released spring, in bores (common practice, no source)"},
		{name: "spring.end_float_low_mm", def: 0.1, low: 0, high: 0.3, unit: "mm", meaning: "least by which the strip must be lower than the barrel is deep (Jendritzki 1950, for watches)"},
		{name: "spring.end_float_high_mm", def: 1.0, low: 0.3, high: 20, unit: "mm", meaning: "most by which the strip may be lower than the barrel is deep (common practice, no source)"},
		{name: "spring.allowance_turns", def: 0.0, low: 0, high: 10, unit: "turns", meaning: "turns taken off for packing and end coils before hours of going are told"},
		{name: "spring.modulus_gpa", def: 206.0, low: 100, high: 300, unit: "GPa", meaning: "modulus of elasticity of the strip (hardened spring steel)"},
		{name: "spring.modulus_u_gpa", def: 5.0, low: 0, high: 50, unit: "GPa", meaning: "standard uncertainty of the modulus: what steels differ by (common practice, no source)"},
		{name: "pivot.clearance_low", def: 0.02, low: 0, high: 0.05, meaning: "least clearance, as a share of the pivot's diameter (common practice, no source)"},
		{name: "pivot.clearance_high", def: 0.10, low: 0.05, high: 0.5, meaning: "most clearance, as a share of the pivot's diameter (common practice, no source)"},
		{name: "pivot.out_of_round_mm", def: 0.02, low: 1e-3, high: 1, unit: "mm", meaning: "most by which diameters across a pivot or a hole may differ (common practice, no source)"},
		{name: "pivot.taper_mm", def: 0.02, low: 1e-3, high: 1, unit: "mm", meaning: "most by which a pivot may differ between shoulder and tip (common practice, no source)"},
		{name: "wheel.module_apart", def: 0.03, low: 1e-3, high: 0.5, meaning: "most by which the modules of wheel and pinion may differ, as a share (common practice, no source)"},
		{name: "pendulum.latitude_deg", low: -90, high: 90, unit: "°", meaning: "latitude at which the clock stands, north = plus"},
		{name: "pendulum.height_m", def: 0.0, low: -500, high: 9000, unit: "m", meaning: "height above the sea at which the clock stands"},
		{name: "pendulum.gravity_m_s2", low: 9.7, high: 9.9, unit: "m/s²", meaning: "gravity where the clock stands, if it is known better than latitude tells"},
		{name: "pendulum.gravity_u_mgal", def: 1.0, low: 0, high: 1000, unit: "mGal", meaning: "standard uncertainty of the gravity given"},
	}
}

// refused is the error for a value of the key. It names a flag as it is typed: whoever typed
// --log-level needn't know of log.level.
func (k key) refused(from Source, err error) *Error {
	if from.Name == fromFlag {
		return &Error{Problem: fmt.Sprintf("--%s %s", FlagName(k.name), err)}
	}
	return at(from, "%s %s", k.name, err)
}

// check compares a value with its key's choices or range. Its error begins with the value.
func (k key) check(value any) error {
	switch v := value.(type) {
	case string:
		switch {
		case k.choices != nil && !slices.Contains(k.choices, v):
			return fmt.Errorf("%q is not known: use %s", v, choice(k.choices))
		case k.name == "zone":
			if _, err := time.LoadLocation(v); err != nil {
				return fmt.Errorf("%q is not known: write it like Europe/Paris", v)
			}
		}
	case []string:
		for _, name := range v {
			if name == "" || quantity.Visible(name) != name || runtime.GOOS != "windows" && !filepath.IsAbs(name) {
				return fmt.Errorf("%q is no port: write its whole path, like /dev/ttyUSB0", name)
			}
		}
	case float64:
		// In this form NaN fails too.
		if !(v >= k.low && v <= k.high) {
			return fmt.Errorf("%v: must be %s", v, span(k.low, k.high, k.unit))
		}
		if k.whole && v != math.Trunc(v) {
			return fmt.Errorf("%v: must be a whole number", v)
		}
	}
	return nil
}

// choice writes a list of words as one would say it: "mm, in or both".
func choice(words []string) string {
	words = slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "" })
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// span writes a range to four digits: "0.05 to 0.5 mm".
func span(low, high float64, unit string) string {
	round := func(x float64) float64 { return math.Round(x*1e4) / 1e4 }
	return strings.TrimSpace(fmt.Sprintf("%v to %v %s", round(low), round(high), unit))
}

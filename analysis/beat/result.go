package beat

import (
	"encoding/json"

	"evenbeat/analysis/beat/periodic"
	"evenbeat/analysis/beat/rate"
	"evenbeat/devices/quantity"
)

// Result is what is found of a run of beats. Every rendering is made from it and
// none computes.
type Result struct {
	Session  int64   `json:"session,omitempty"`  // number in the book; absent for a beat file
	Sessions []int64 `json:"sessions,omitempty"` // those that were read as one run, in place of session

	Rate         Rate           `json:"rate_s_per_day"`
	Mean         Mean           `json:"mean"`                            // which one the rate is
	IntervalS    float64        `json:"interval_s"`                      // mean, true time
	BeatsPerHour float64        `json:"beats_per_hour"`                  // found, true time
	TickTock     quantity.Value `json:"tick_tock_difference_s,omitzero"` // signed: interval after an even index less the other; none where one side is heard
	BeatError    quantity.Value `json:"beat_error_s,omitzero"`           // half the absolute value of that difference
	Beats        int64          `json:"beats"`                           // heard and indexed
	Late         int64          `json:"late"`                            // of the beats: by more than scatter explains, up to a tenth of the interval; left out of the rate
	Early        int64          `json:"early"`                           // the same, early
	Missed       int64          `json:"missed"`                          // beats that were not heard
	Spurious     int64          `json:"spurious"`                        // events that were no beats
	Segments     int64          `json:"segments"`                        // stretches between breaks; 1 for a run without any
	DurationS    float64        `json:"duration_s"`                      // from first beat to last, true time
	TimeBase     TimeBase       `json:"timebase"`
	Wheels       []Wheel        `json:"wheels,omitempty"`
	Tooth        *Tooth         `json:"tooth,omitempty"`       // of the escape wheel, the one farthest off
	TrainTooth   *TrainTooth    `json:"train_tooth,omitempty"` // of another wheel
	Periods      []Period       `json:"periods,omitempty"`     // what repeats, where no train is known; strongest first
	ShortTerm    []Short        `json:"short_term,omitempty"`  // over windows of whole turns of the escape wheel
	Stability    []Stability    `json:"stability,omitempty"`

	Amplitude       *quantity.Value  `json:"amplitude_deg,omitempty"`            // the pendulum's mean semi-amplitude
	CircularError   *quantity.Value  `json:"circular_error_s_per_day,omitempty"` // what that loses against a vanishing arc
	AmplitudeEffect *AmplitudeEffect `json:"swing,omitempty"`
	Pendulum        *Pendulum        `json:"pendulum,omitempty"`

	Reasons       []string `json:"reasons,omitempty"`
	Next          []string `json:"next,omitempty"`
	Warnings      []string `json:"warnings"`
	NominalBeatsH float64  `json:"nominal_beats_per_hour"` // at which the clock would keep time

	// Trace and Fold are for the figures, thinned; not part of the findings' text.
	// BeatsPerTooth is how many of Fold's places make a tooth.
	Trace         []TracePoint `json:"-"`
	Fold          []FoldPoint  `json:"-"`
	BeatsPerTooth int          `json:"-"`
	// Course says, for behind the rate, what it isn't: from what to what a walking rate
	// went, and which beats are left out; "" where it held for all.
	Course string `json:"-"`
}

// Rate is in s/day, plus = the clock gains. Its JSON holds the ends of the interval too.
type Rate struct{ quantity.Value }

// MarshalJSON writes the rate with the ends of its 95 % interval.
func (r Rate) MarshalJSON() ([]byte, error) {
	return json.Marshal(r.Interval())
}

// What the stages find, as it stands in the result.
type (
	Wheel      = periodic.Wheel
	Tooth      = periodic.Tooth
	TrainTooth = periodic.TrainTooth
	Period     = periodic.Period
	Short      = rate.Window
)

// Kinds of tooth.
const (
	ToothBent    = periodic.ToothBent
	ToothWorst   = periodic.ToothWorst
	ToothUnheard = periodic.ToothUnheard
)

// TimeBase says what true time was taken from.
type TimeBase struct {
	OffsetPPM        quantity.Value `json:"offset_ppm"`           // device's count against the source, with the source's own uncertainty; plus = the device counts too fast
	Source           string         `json:"source"`               // host, device, reference or none
	HostSynchronised bool           `json:"host_synchronised"`    // a time service kept the computer's clock right
	ByPulse          bool           `json:"by_pulse,omitempty"`   // by the reference's pulses, not by its sentences
	Remembered       bool           `json:"remembered,omitempty"` // the host's clock is as earlier sessions found it
	Imported         bool           `json:"imported,omitempty"`   // the times are a file's, and no host of ours stamped them
	// CountPPM is the device's count against the host's clock as it is, with the
	// uncertainty of that comparison alone; plus = too fast.
	CountPPM *quantity.Value `json:"count_against_host_ppm,omitempty"`
	HostPPM  *quantity.Value `json:"host_ppm,omitempty"` // the host's clock against true time; plus = too fast
	// DelayStepS is the step in seconds at which the sensor's messages reach the computer,
	// or may, as far as their stamps tell; the offset's uncertainty allows for it.
	DelayStepS float64 `json:"delay_step_s,omitempty"`
}

// AmplitudeEffect is what the amplitude does to the rate.
type AmplitudeEffect struct {
	PerDegree quantity.Value  `json:"s_per_day_per_deg"`            // change of rate for one degree more of semi-amplitude
	Change    *quantity.Value `json:"change_deg,omitempty"`         // of the semi-amplitude over the run
	Explains  *quantity.Value `json:"explains_s_per_day,omitempty"` // change of rate from beginning to end that this makes
	Passes    int64           `json:"passes"`                       // of the flag, measured
}

// Pendulum is what the beat says of the pendulum's length. Asked and Length share
// the uncertainty of gravity, Difference has next to none of it.
type Pendulum struct {
	Length     quantity.Value  `json:"effective_length_m"`  // of what was heard
	Asked      quantity.Value  `json:"asked_length_m"`      // of what would keep time
	Difference quantity.Value  `json:"difference_m"`        // plus = too long
	NutTurns   *quantity.Value `json:"nut_turns,omitempty"` // plus = made to gain
}

// Stability is one row of the short table in a rate's findings.
type Stability struct {
	TauS float64 `json:"tau_s"`          // averaging time
	ADev float64 `json:"adev"`           // overlapping Allan deviation of the fractional frequency
	Low  float64 `json:"low,omitempty"`  // lower end of its 68 % interval
	High float64 `json:"high,omitempty"` // upper end of its 68 % interval
	N    int64   `json:"n"`              // terms in it
}

// TracePoint is one beat (or the mean of neighbours, in a long run) in the figure.
type TracePoint struct {
	TimeS     float64 // since the first beat, true time
	ResidualS float64 // time error against the fitted line, without the tick–tock offset; plus = late
	Odd       bool    // a tock
	After     bool    // the first after a break or a stop
	Far       bool    // kept since it lies farthest off among its neighbours
}

// FoldPoint is the mean residual at one place of the escape wheel's turn.
type FoldPoint struct {
	Place     int // beat within the turn, from 0
	ResidualS quantity.Value
	// WaveS is what an eccentric wheel would make of it; a tooth is off by what it
	// lies from that. 0 where no tooth was judged.
	WaveS float64
}

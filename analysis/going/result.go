package going

import (
	"time"

	"evenbeat/devices/quantity"
)

// Result is how a clock went over days and weeks. All renderings are made from it without
// computing. Figures that the record can't give are nil.
type Result struct {
	Checks   int             `json:"checks"`                        // comparisons of the dial in the record
	SpanDays float64         `json:"span_days"`                     // from the first check to the last
	ErrorNow *quantity.Value `json:"error_now_s,omitempty"`         // of the dial at the last check; plus = fast
	MeanRate *quantity.Value `json:"mean_rate_s_per_day,omitempty"` // end to end
	RateNow  *quantity.Value `json:"rate_now_s_per_day,omitempty"`  // since the last act; nil where one came after the last check
	Daily    []Daily         `json:"daily_rates,omitempty"`
	Trend    *quantity.Value `json:"trend_s_per_day_per_day,omitempty"` // steady change of the rate
	Factors  []Factor        `json:"factors,omitempty"`
	Segments []Segment       `json:"segments,omitempty"`
	Nut      *Nut            `json:"nut,omitempty"`
	Advice   []Advice        `json:"advice,omitempty"`     // what was done to the nut and what came of it, the oldest first, and last what to do now
	Forecast *quantity.Value `json:"forecast_s,omitempty"` // error to expect a week after the last check, if nothing is touched
	Doubtful []Doubt         `json:"doubtful,omitempty"`
	Reasons  []string        `json:"reasons"` // the first is the answer
	Matters  []string        `json:"-"`       // of the reasons, those that say what is amiss with the record
	Next     []string        `json:"next"`

	Turned string `json:"-"` // what the last turn of the nut was to bring and brought, "" for none

	// Curve is for the figure: the error as the model has it, at each check.
	Curve []CurvePoint `json:"-"`
}

// Daily is the rate between two checks about a day apart.
type Daily struct {
	From time.Time      `json:"from"`           // time of the first check
	To   time.Time      `json:"to"`             // time of the second check
	Rate quantity.Value `json:"rate_s_per_day"` // plus = the clock gains
}

// Factor is something that the rate depends on.
type Factor struct {
	Name        string         `json:"name"`        // temperature, pressure, hours since winding, amplitude
	PerUnit     quantity.Value `json:"per_unit"`    // change of the rate in s/day for one unit more
	Unit        string         `json:"unit"`        // K, hPa, h, deg
	Significant bool           `json:"significant"` // the record can tell it from chance and from the other factors
}

// Segment is a stretch between two acts that change the rate: from the first check to the
// last, or from act to act where the rate follows from checks beyond them.
type Segment struct {
	From    time.Time      `json:"from"`              // where it begins
	To      time.Time      `json:"to"`                // where it ends
	Rate    quantity.Value `json:"rate_s_per_day"`    // plus = the clock gains
	After   string         `json:"after,omitempty"`   // kind of the event before it
	AfterAt time.Time      `json:"after_at,omitzero"` // when that event was
}

// Nut is the effect of a turn of the rating nut, and what to turn.
type Nut struct {
	PerTurn quantity.Value  `json:"s_per_day_per_turn"`     // what a turn does to the rate
	Source  string          `json:"source"`                 // record or geometry
	Advice  *quantity.Value `json:"advice_turns,omitempty"` // what to turn; plus = the clock is made to gain
}

// Advice is what to do to the rating nut, or what was done to it, whether or not that was
// advised, and what came of it. Turns between the same two checks are told as one. What is
// to do now comes last, and only where there is a rate to judge by.
type Advice struct {
	// Made is when the advice could first be given: the time of the last check before the
	// nut was turned, or of the last of all for what to do now. Where there is none it is
	// when the nut was turned.
	Made time.Time `json:"made"`
	Do   string    `json:"do"`            // what was done, or is to be done, in words
	Done time.Time `json:"done,omitzero"` // when the nut was turned, the last time where several turns are told as one
	// Expected is the change of rate that the turns are to bring: by the thread and the
	// checks up to then. It is nil where the turns weren't noted, or nothing told their
	// effect.
	Expected *quantity.Value `json:"expected_s_per_day,omitempty"`
	// Came is the change of rate that the checks show: the rate after the turns less that
	// before. Its uncertainty holds the checks' and the clock's own wandering. It is nil
	// where three hours of going weren't checked before and after, or where something else
	// was done between the same two checks that may have changed the rate.
	Came *quantity.Value `json:"came_s_per_day,omitempty"`
	// Open is true for what is still to do, and for what was done last, as long as the
	// checks can't tell whether anything came of it, and more of them can. It is false
	// where the outcome is known, or can never be.
	Open bool   `json:"open"`
	Says string `json:"-"` // all of it in a sentence
}

// CurvePoint is one check: the error as recorded, since the hands were last set,
// and as the model has it.
type CurvePoint struct {
	At      time.Time
	ErrorS  float64
	ModelS  float64
	Segment int
}

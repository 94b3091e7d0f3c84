package going

import (
	"time"

	"evenbeat/devices/quantity"
)

// Result is how a clock went over days and weeks. All renderings are made from it without
// computing. Figures that the record can't give are nil.
type Result struct {
	Checks   int             `json:"checks"`
	SpanDays float64         `json:"span_days"`
	ErrorNow *quantity.Value `json:"error_now_s,omitempty"`
	MeanRate *quantity.Value `json:"mean_rate_s_per_day,omitempty"` // end to end
	RateNow  *quantity.Value `json:"rate_now_s_per_day,omitempty"`  // since the last act; nil where one came after the last check
	Daily    []Daily         `json:"daily_rates,omitempty"`
	Trend    *quantity.Value `json:"trend_s_per_day_per_day,omitempty"`
	Factors  []Factor        `json:"factors,omitempty"`
	Segments []Segment       `json:"segments,omitempty"`
	Nut      *Nut            `json:"nut,omitempty"`
	Forecast *quantity.Value `json:"forecast_s,omitempty"` // error to expect a week after the last check, if nothing is touched
	Doubtful []Doubt         `json:"doubtful,omitempty"`
	Reasons  []string        `json:"reasons"` // the first is the answer
	Matters  []string        `json:"-"`       // of the reasons, those that say what is amiss with the record
	Next     []string        `json:"next"`

	// Curve is for the figure: the error as the model has it, at each check.
	Curve []CurvePoint `json:"-"`
}

// Daily is the rate between two checks about a day apart.
type Daily struct {
	From time.Time      `json:"from"`
	To   time.Time      `json:"to"`
	Rate quantity.Value `json:"rate_s_per_day"`
}

// Factor is something that the rate depends on.
type Factor struct {
	Name        string         `json:"name"` // temperature, pressure, hours since winding, amplitude
	PerUnit     quantity.Value `json:"per_unit"`
	Unit        string         `json:"unit"` // K, hPa, h, deg
	Significant bool           `json:"significant"`
}

// Segment is a stretch between two acts that change the rate: from the first check to the
// last, or from act to act where the rate follows from checks beyond them.
type Segment struct {
	From    time.Time      `json:"from"`
	To      time.Time      `json:"to"`
	Rate    quantity.Value `json:"rate_s_per_day"`
	After   string         `json:"after,omitempty"` // kind of the event before it
	AfterAt time.Time      `json:"after_at,omitzero"`
}

// Nut is the effect of a turn of the rating nut, and what to turn.
type Nut struct {
	PerTurn quantity.Value  `json:"s_per_day_per_turn"`
	Source  string          `json:"source"` // record or geometry
	Advice  *quantity.Value `json:"advice_turns,omitempty"`
}

// CurvePoint is one check: the error as recorded, since the hands were last set,
// and as the model has it.
type CurvePoint struct {
	At      time.Time
	ErrorS  float64
	ModelS  float64
	Segment int
}

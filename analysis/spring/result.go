package spring

import "evenbeat/devices/quantity"

// Verdict on a spring in its barrel.
type Verdict string

// The verdicts.
const (
	Fits       Verdict = "fits"
	Short      Verdict = "short"
	Long       Verdict = "long"
	DoesNotGo  Verdict = "does not go in"
	CannotTell Verdict = "cannot tell"
)

// Result is the answer about a spring in its barrel. All renderings are made from it
// without computing. What could not be found is nil. Units are SI.
type Result struct {
	Part string `json:"part,omitempty"` // as the record names it; absent for values given

	Bore   *quantity.Value `json:"bore_m,omitempty"`   // inner diameter of the barrel
	Arbor  *quantity.Value `json:"arbor_m,omitempty"`  // diameter where the coil seats
	Strip  *quantity.Value `json:"strip_m,omitempty"`  // thickness
	Height *quantity.Value `json:"height_m,omitempty"` // of the strip
	Depth  *quantity.Value `json:"depth_m,omitempty"`  // of the barrel inside, from cover to floor
	Length *quantity.Value `json:"length_m,omitempty"` // by the way that rules, see LengthFrom
	Inner  *quantity.Value `json:"inner_m,omitempty"`  // inner diameter of the run-down coil
	Coils  *quantity.Value `json:"coils,omitempty"`    // of the run-down spring in the barrel, counted

	// OverIdeal is how much longer than ideal the strip is, in metres; 0 where that
	// can't be told.
	OverIdeal   float64         `json:"-"`
	HalfArea    *quantity.Value `json:"half_area_m2,omitempty"`       // half of the space between arbor and barrel wall
	IdealLength *quantity.Value `json:"ideal_length_m,omitempty"`     // of the strip, with the most turns
	Fill        *quantity.Value `json:"fill,omitempty"`               // strip's share of the space; 0.5 = half
	Wound       *quantity.Value `json:"wound_diameter_m,omitempty"`   // outside of the coil about the arbor, fully wound
	Rundown     *quantity.Value `json:"rundown_diameter_m,omitempty"` // inside of the coil against the wall, run down
	Turns       *quantity.Value `json:"turns,omitempty"`              // of the barrel, from full wind to run down
	TurnsBest   *quantity.Value `json:"turns_best,omitempty"`         // with a strip of the ideal length
	TurnsLost   *quantity.Value `json:"turns_lost,omitempty"`         // share of TurnsBest
	GoingHours  *Estimate       `json:"going_hours,omitempty"`        // on one winding
	TorqueFull  *Estimate       `json:"torque_full_nm,omitempty"`     // at full wind
	Energy      *Estimate       `json:"energy_j,omitempty"`           // that it gives from full wind to the end of the run
	Stress      *quantity.Value `json:"stress_pa,omitempty"`          // nominal, at full wind: several times the strip's strength, and no verdict

	LengthFrom   LengthFrom      `json:"length_from,omitempty"`   // what the length was taken from
	CoilsWound   *quantity.Value `json:"coils_wound,omitempty"`   // about the arbor at full wind
	CoilsRundown *quantity.Value `json:"coils_rundown,omitempty"` // against the wall, run down
	TorqueEnd    *Estimate       `json:"torque_end_nm,omitempty"` // at the end of the run
	TorqueRatio  *Estimate       `json:"torque_ratio,omitempty"`  // full wind over end of the run

	// HalfCircle is the diameter of the circle that halves the space, where the
	// outside of the wound coil and the inside of the run-down one meet at best.
	HalfCircle float64 `json:"half_circle_m,omitempty"`
	FillLow    float64 `json:"fill_low,omitempty"`  // lower limit in force
	FillHigh   float64 `json:"fill_high,omitempty"` // upper limit in force

	Verdict Verdict      `json:"verdict"` // on the length, and on whether the strip goes in at all
	Whole   Whole        `json:"whole"`
	Budget  []BudgetLine `json:"budget,omitempty"`

	InPlace    []InPlace `json:"in_place,omitempty"`
	Rules      []Rule    `json:"rules,omitempty"`
	Runs       []Run     `json:"runs,omitempty"`
	Band       []Band    `json:"band,omitempty"`
	MonteCarlo []Drawn   `json:"monte_carlo,omitempty"`

	Reasons  []string `json:"reasons"`
	Matters  []string `json:"-"`       // of the reasons, those that say what is amiss or in doubt
	Working  []string `json:"working"` // the sum as one would write it on paper, a line each
	Cautions []string `json:"cautions"`
	Next     []string `json:"next"`

	Stock []StockLine `json:"stock,omitempty"`
	Order *Order      `json:"order,omitempty"`
}

// BudgetLine is one input's share of the variance of the fill, and what would reduce it.
type BudgetLine struct {
	Input  string  `json:"input"`            // the dimension
	Share  float64 `json:"share"`            // of the variance, 0 to 1
	Cause  string  `json:"cause,omitempty"`  // of the greatest part of the share
	Better string  `json:"better,omitempty"` // what would reduce it
}

// StockLine is one strip of a stock list, ranked.
type StockLine struct {
	Name          string  `json:"name"`                     // in the list
	Thickness     float64 `json:"thickness_m"`              // as the list has it
	Height        float64 `json:"height_m,omitempty"`       // as the list has it
	Length        float64 `json:"length_m,omitempty"`       // as the list has it
	Turns         float64 `json:"turns,omitempty"`          // that it gives
	Fill          float64 `json:"fill,omitempty"`           // strip's share of the space; 0.5 = half
	StrengthRatio float64 `json:"strength_ratio,omitempty"` // against this spring
	GoingHours    float64 `json:"going_hours,omitempty"`    // with the allowance and stopwork taken off
	Quantity      *int64  `json:"quantity,omitempty"`       // at hand; nil where the list doesn't say
	Verdict       Verdict `json:"verdict"`
	Why           string  `json:"why,omitempty"` // why it doesn't fit, or what speaks against it
}

// InPlace is the length by one of the ways to it.
type InPlace struct {
	From   LengthFrom     `json:"from"`
	Length quantity.Value `json:"length_m"` // of the strip
	Fill   quantity.Value `json:"fill"`     // strip's share of the space, by this length
}

// Held says whether a rule of the trade is kept.
type Held string

// Whether a rule is kept. Look is for what no figure can show.
const (
	Kept    Held = "kept"
	Broken  Held = "broken"
	Unclear Held = "cannot tell"
	Look    Held = "look"

	NotKnown Held = "not known" // of what isn't measured or looked at yet
)

// Rule is one rule of the trade, held against this spring.
type Rule struct {
	Name   string          `json:"name"` // of the rule
	Held   Held            `json:"held"`
	Value  *quantity.Value `json:"value,omitempty"`  // of this spring, in the unit that unit names
	Low    float64         `json:"low,omitempty"`    // lower limit; absent for none
	High   float64         `json:"high,omitempty"`   // upper limit; absent for none
	Margin float64         `json:"margin,omitempty"` // to the nearer limit; negative = beyond it
	Unit   string          `json:"unit,omitempty"`   // of value, limits and margin: m, or none for a ratio
	Says   string          `json:"says"`             // in words
	Source string          `json:"source"`           // of the rule
}

// Run is the winding that a time of going takes.
type Run struct {
	Days    float64        `json:"days"`          // of going
	Turns   float64        `json:"turns"`         // that they take
	Reserve quantity.Value `json:"reserve_turns"` // turns left; negative = it stops before
}

// Band is a strip that would fit this barrel.
type Band struct {
	Thickness     float64 `json:"thickness_m"`              // of the strip
	LengthLow     float64 `json:"length_low_m"`             // shortest that fits
	LengthIdeal   float64 `json:"length_ideal_m"`           // with the most turns
	LengthHigh    float64 `json:"length_high_m"`            // longest that fits
	TurnsBest     float64 `json:"turns_best"`               // at the ideal length
	StrengthRatio float64 `json:"strength_ratio,omitempty"` // against this spring, at the ideal length and same height
}

// Drawn is a figure's Monte Carlo beside the same figure to first order.
type Drawn struct {
	Figure string  `json:"figure"`             // its name
	N      int64   `json:"n"`                  // draws
	Mean   float64 `json:"mean"`               // of the draws
	U      float64 `json:"u"`                  // standard deviation of the draws
	Low95  float64 `json:"low95"`              // lower end of the 95 % interval
	High95 float64 `json:"high95"`             // upper end of the 95 % interval
	First  float64 `json:"first_order_half95"` // half of the 95 % interval to first order
}

// Interval writes the ends of the 95 % interval in a unit of the given size, both with
// the digits that its half bears.
func (d Drawn) Interval(unit float64) string {
	end := func(x float64) string {
		return quantity.Value{V: x / unit, U: (d.High95 - d.Low95) / 2 / unit, K: 1}.Plain("")
	}
	return end(d.Low95) + " to " + end(d.High95)
}

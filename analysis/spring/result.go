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
	Part string `json:"part,omitempty"`

	Bore   *quantity.Value `json:"bore_m,omitempty"`
	Arbor  *quantity.Value `json:"arbor_m,omitempty"`
	Strip  *quantity.Value `json:"strip_m,omitempty"` // thickness
	Height *quantity.Value `json:"height_m,omitempty"`
	Depth  *quantity.Value `json:"depth_m,omitempty"`
	Length *quantity.Value `json:"length_m,omitempty"` // by the way that rules, see LengthFrom
	Inner  *quantity.Value `json:"inner_m,omitempty"`  // inner diameter of the run-down coil
	Coils  *quantity.Value `json:"coils,omitempty"`

	// OverIdeal is how much longer than ideal the strip is, in metres; 0 where that
	// can't be told.
	OverIdeal   float64         `json:"-"`
	HalfArea    *quantity.Value `json:"half_area_m2,omitempty"`
	IdealLength *quantity.Value `json:"ideal_length_m,omitempty"`
	Fill        *quantity.Value `json:"fill,omitempty"` // strip's share of the space; 0.5 = half
	Wound       *quantity.Value `json:"wound_diameter_m,omitempty"`
	Rundown     *quantity.Value `json:"rundown_diameter_m,omitempty"`
	Turns       *quantity.Value `json:"turns,omitempty"`
	TurnsBest   *quantity.Value `json:"turns_best,omitempty"`
	TurnsLost   *quantity.Value `json:"turns_lost,omitempty"` // share of TurnsBest
	GoingHours  *Estimate       `json:"going_hours,omitempty"`
	TorqueFull  *Estimate       `json:"torque_full_nm,omitempty"`
	Energy      *Estimate       `json:"energy_j,omitempty"`
	Stress      *quantity.Value `json:"stress_pa,omitempty"`

	LengthFrom   LengthFrom      `json:"length_from,omitempty"`   // what the length was taken from
	CoilsWound   *quantity.Value `json:"coils_wound,omitempty"`   // about the arbor at full wind
	CoilsRundown *quantity.Value `json:"coils_rundown,omitempty"` // against the wall, run down
	TorqueEnd    *Estimate       `json:"torque_end_nm,omitempty"` // at the end of the run
	TorqueRatio  *Estimate       `json:"torque_ratio,omitempty"`  // full wind over end of the run

	// HalfCircle is the diameter of the circle that halves the space, where the
	// outside of the wound coil and the inside of the run-down one meet at best.
	HalfCircle float64 `json:"half_circle_m,omitempty"`
	FillLow    float64 `json:"fill_low,omitempty"` // limits in force
	FillHigh   float64 `json:"fill_high,omitempty"`

	Verdict Verdict      `json:"verdict"` // on the length, and on whether the strip goes in at all
	Whole   Whole        `json:"whole"`
	Budget  []BudgetLine `json:"budget,omitempty"`

	InPlace    []InPlace `json:"in_place,omitempty"`
	Rules      []Rule    `json:"rules,omitempty"`
	Runs       []Run     `json:"runs,omitempty"`
	Band       []Band    `json:"band,omitempty"`
	MonteCarlo []Drawn   `json:"monte_carlo,omitempty"`

	Reasons  []string `json:"reasons"`
	Matters  []string `json:"-"` // of the reasons, those that say what is amiss or in doubt
	Working  []string `json:"working"`
	Cautions []string `json:"cautions"`
	Next     []string `json:"next"`

	Stock []StockLine `json:"stock,omitempty"`
	Order *Order      `json:"order,omitempty"`
}

// BudgetLine is one input's share of the variance of the fill, and what would reduce it.
type BudgetLine struct {
	Input  string  `json:"input"`
	Share  float64 `json:"share"`
	Cause  string  `json:"cause,omitempty"` // of the greatest part of the share
	Better string  `json:"better,omitempty"`
}

// StockLine is one strip of a stock list, ranked.
type StockLine struct {
	Name          string  `json:"name"`
	Thickness     float64 `json:"thickness_m"`
	Height        float64 `json:"height_m,omitempty"`
	Length        float64 `json:"length_m,omitempty"`
	Turns         float64 `json:"turns,omitempty"`
	Fill          float64 `json:"fill,omitempty"`
	StrengthRatio float64 `json:"strength_ratio,omitempty"`
	GoingHours    float64 `json:"going_hours,omitempty"` // with the allowance and stopwork taken off
	Quantity      *int64  `json:"quantity,omitempty"`    // at hand; nil where the list doesn't say
	Verdict       Verdict `json:"verdict"`
	Why           string  `json:"why,omitempty"`
}

// InPlace is the length by one of the ways to it.
type InPlace struct {
	From   LengthFrom     `json:"from"`
	Length quantity.Value `json:"length_m"`
	Fill   quantity.Value `json:"fill"`
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
	Name   string          `json:"name"`
	Held   Held            `json:"held"`
	Value  *quantity.Value `json:"value,omitempty"`
	Low    float64         `json:"low,omitempty"`
	High   float64         `json:"high,omitempty"`
	Margin float64         `json:"margin,omitempty"` // to the nearer limit; negative = beyond it
	Unit   string          `json:"unit,omitempty"`   // of value, limits and margin: m, or none for a ratio
	Says   string          `json:"says"`
	Source string          `json:"source"`
}

// Run is the winding that a time of going takes.
type Run struct {
	Days    float64        `json:"days"`
	Turns   float64        `json:"turns"`
	Reserve quantity.Value `json:"reserve_turns"` // turns left; negative = it stops before
}

// Band is a strip that would fit this barrel.
type Band struct {
	Thickness     float64 `json:"thickness_m"`
	LengthLow     float64 `json:"length_low_m"`
	LengthIdeal   float64 `json:"length_ideal_m"`
	LengthHigh    float64 `json:"length_high_m"`
	TurnsBest     float64 `json:"turns_best"`
	StrengthRatio float64 `json:"strength_ratio,omitempty"` // against this spring, at the ideal length and same height
}

// Drawn is a figure's Monte Carlo beside the same figure to first order.
type Drawn struct {
	Figure string  `json:"figure"`
	N      int64   `json:"n"`
	Mean   float64 `json:"mean"`
	U      float64 `json:"u"`
	Low95  float64 `json:"low95"`
	High95 float64 `json:"high95"`
	First  float64 `json:"first_order_half95"`
}

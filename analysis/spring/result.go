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

// Result is what is found of a spring in its barrel: every rendering is made from
// it and none computes. Fields that could not be found are nil. Units are SI.
type Result struct {
	Part string `json:"part,omitempty"`

	Bore   *quantity.Value `json:"bore_m,omitempty"`
	Arbor  *quantity.Value `json:"arbor_m,omitempty"`
	Strip  *quantity.Value `json:"strip_m,omitempty"` // thickness
	Height *quantity.Value `json:"height_m,omitempty"`
	Depth  *quantity.Value `json:"depth_m,omitempty"`
	Length *quantity.Value `json:"length_m,omitempty"`
	Inner  *quantity.Value `json:"inner_m,omitempty"` // inner diameter of the run-down coil
	Coils  *quantity.Value `json:"coils,omitempty"`

	HalfArea    *quantity.Value `json:"half_area_m2,omitempty"`
	IdealLength *quantity.Value `json:"ideal_length_m,omitempty"`
	Fill        *quantity.Value `json:"fill,omitempty"` // strip's share of the space; 0.5 = half
	Wound       *quantity.Value `json:"wound_diameter_m,omitempty"`
	Rundown     *quantity.Value `json:"rundown_diameter_m,omitempty"`
	Turns       *quantity.Value `json:"turns,omitempty"`
	TurnsBest   *quantity.Value `json:"turns_best,omitempty"`
	TurnsLost   *quantity.Value `json:"turns_lost,omitempty"` // share of TurnsBest
	GoingHours  *quantity.Value `json:"going_hours,omitempty"`
	TorqueFull  *quantity.Value `json:"torque_full_nm,omitempty"`
	Energy      *quantity.Value `json:"energy_j,omitempty"`
	Stress      *quantity.Value `json:"stress_pa,omitempty"`

	Verdict Verdict      `json:"verdict"`
	Budget  []BudgetLine `json:"budget,omitempty"`

	Reasons  []string `json:"reasons"`
	Working  []string `json:"working"`
	Cautions []string `json:"cautions"`
	Next     []string `json:"next"`

	Stock []StockLine `json:"stock,omitempty"`
}

// BudgetLine is one input's share of the variance of the fill, and what would
// make it smaller.
type BudgetLine struct {
	Input  string  `json:"input"`
	Share  float64 `json:"share"`
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
	Verdict       Verdict `json:"verdict"`
}

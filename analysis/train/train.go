package train

// Arbor is one arbor of a train.
type Arbor struct {
	Arbor   int     `json:"arbor"` // from the barrel (1)
	Name    string  `json:"name"`
	PeriodS float64 `json:"period_s"` // time of one turn, in the clock's own time
}

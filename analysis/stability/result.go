package stability

// Noise is the power-law noise that dominates at an averaging time.
type Noise string

// The kinds, in the order of falling exponent of frequency.
const (
	WhitePhase       Noise = "white phase"
	FlickerPhase     Noise = "flicker phase"
	WhiteFrequency   Noise = "white frequency"
	FlickerFrequency Noise = "flicker frequency"
	RandomWalk       Noise = "random walk frequency"
)

// Row is the Allan family at one averaging time. A figure with too few points is nil.
// Deviations are of fractional frequency, TDev in seconds.
type Row struct {
	TauS   float64  `json:"tau_s"`            // averaging time
	N      int64    `json:"n"`                // terms in OADev
	ADev   *float64 `json:"adev,omitempty"`   // Allan deviation, not overlapping
	OADev  *float64 `json:"oadev,omitempty"`  // overlapping Allan deviation
	MDev   *float64 `json:"mdev,omitempty"`   // modified Allan deviation
	TDev   *float64 `json:"tdev,omitempty"`   // time deviation, in seconds
	HDev   *float64 `json:"hdev,omitempty"`   // Hadamard deviation, not overlapping
	OHDev  *float64 `json:"ohdev,omitempty"`  // overlapping Hadamard deviation
	TotDev *float64 `json:"totdev,omitempty"` // total deviation
	Low    *float64 `json:"low,omitempty"`    // lower end of the 68 % interval of OADev
	High   *float64 `json:"high,omitempty"`   // upper end of the 68 % interval of OADev
	Edf    *float64 `json:"edf,omitempty"`    // equivalent degrees of freedom behind that interval
	Noise  Noise    `json:"noise,omitempty"`
	Single []string `json:"single,omitempty"` // the figures of a single term, by their names here
}

// Result is a stability table.
type Result struct {
	Rows     []Row    `json:"rows"`
	Warnings []string `json:"warnings,omitempty"`
}

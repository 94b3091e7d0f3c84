package timebase

import (
	"math/rand/v2"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
)

// A clock left to itself runs at any rate within its crystal's limit of error, be that
// the usual one or the user's own.
func TestCoverageOfAFreeHost(t *testing.T) {
	for _, c := range []struct {
		kind string
		h    Host
	}{
		{"free, 50 ppm", Host{Known: true}},
		{"free, 2 ppm by the settings", Host{Known: true, LimitPPM: 2}},
	} {
		t.Run(c.kind, func(t *testing.T) {
			t.Parallel()
			held.Count(t, held.Cell{What: "host's clock", Kind: c.kind, Length: "10 min", Unit: "ppm",
				Run: func(seed uint64) (quantity.Value, float64, error) {
					rng := rand.New(rand.NewPCG(seed, 11))
					return c.h.RatePPM(600), c.h.CrystalLimitPPM() * (2*rng.Float64() - 1), nil
				}})
		})
	}
}

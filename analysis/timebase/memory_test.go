package timebase

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
	"evenbeat/sessions"
)

// readings are those of a host at the ends of a session: of its clock and of its bare
// crystal, which run fast by so many ppm.
func readings(seconds, clock, bare float64, synced bool) []sessions.HostReading {
	const from = 7e12
	a := sessions.HostReading{Host: "a", Boot: "1", Synced: synced, MonoNs: from, RawNs: from}
	b := a
	b.MonoNs += int64(seconds * 1e9 * (1 + clock*1e-6))
	b.RawNs += int64(seconds * 1e9 * (1 + bare*1e-6))
	return []sessions.HostReading{a, b}
}

// An hour beside a time service tells the rate of the crystal. A session later, without
// the service and with what it left behind still steering, is by that: the crystal has
// gone by anything within the limits for temperature, age and a new start meanwhile.
func TestCoverageOfARememberedHost(t *testing.T) {
	for _, c := range []struct {
		kind  string
		years float64
		boot  string
		width float64 // half-width at the most, ppm
	}{
		{"remembered from the same day", 0, "1", 5},
		{"remembered from a start before", 0.02, "2", 13},
		{"remembered for two years", 2, "1", 12},
	} {
		t.Run(c.kind, func(t *testing.T) {
			t.Parallel()
			held.Count(t, held.Cell{What: "host's clock", Kind: c.kind, Length: "10 min", Unit: "ppm",
				Run: func(seed uint64) (quantity.Value, float64, error) {
					clock, bare := disciplined{poll: 64, noise: 0.8e-3, seed: seed}.rates(3600)
					found, ok := FindCrystal(readings(3600, clock, bare, true), nil, Host{Known: true, Synced: true})
					if !ok {
						return found, 0, errors.New("the crystal isn't found")
					}
					rng := rand.New(rand.NewPCG(seed, 13))
					within := func(limit float64) float64 { return limit * (2*rng.Float64() - 1) }
					now := bare + within(wanderPPM) + within(agePPM*c.years)
					if c.boot != "1" {
						now += within(bootPPM)
					}
					left := within(50)
					h := Host{Known: true, Crystal: Recall([]Crystal{{PPM: found, AgeS: c.years * yearS, Boot: "1"}}, c.boot)}
					h.SteeredPPM, _, h.HasSteered = Steered(readings(600, now+left, now, false))
					v := h.RatePPM(600)
					if v.Half95() > c.width {
						return v, 0, errors.New("the interval is too wide")
					}
					return v, now + left, nil
				}})
		})
	}
}

// What doesn't tell of the crystal is not remembered, and of what does the narrowest
// interval counts.
func TestRecall(t *testing.T) {
	service := Host{Known: true, Synced: true}
	other := readings(3600, 0, 20, true)
	other[1].Boot = "2"
	loose := readings(3600, 0, 20, true)
	loose[1].Synced = false
	for name, r := range map[string][]sessions.HostReading{
		"none": nil, "one": readings(3600, 0, 20, true)[:1], "started anew": other, "the service was lost": loose, "too short": readings(50, 0, 20, true),
	} {
		if v, ok := FindCrystal(r, nil, service); ok {
			t.Errorf("%s: got %v", name, v)
		}
	}
	if v, ok := FindCrystal(readings(3600, 0, 20, true), nil, Host{Known: true}); ok {
		t.Errorf("no service at the start: got %v", v)
	}
	old := Crystal{PPM: quantity.Value{V: 10, U: 0.1}, AgeS: 10 * yearS, Boot: "1"}
	fresh := Crystal{PPM: quantity.Value{V: 20, U: 0.5}, AgeS: 86400, Boot: "1"}
	if v := Recall([]Crystal{old, fresh}, "1"); v.V != 20 {
		t.Errorf("got %v, want that of yesterday", v)
	}
	if v := Recall(nil, "1"); v.U != 0 {
		t.Errorf("nothing to remember: got %v", v)
	}
	// By a reference: 80 ppm fast, of which 30 are steering.
	var told []sessions.Reference
	for s := range int64(3600) {
		at := float64(s) + 0.02
		told = append(told, sessions.Reference{HostMono: int64(at * (1 + 80e-6) * 1e9), Nanos: s * 1e9})
	}
	v, ok := FindCrystal(readings(3600, 80, 50, false), told, Host{Known: true})
	if !ok || !v.Covers(50) || v.Half95() > 5 || math.Abs(v.V-50) > 1 {
		t.Errorf("by a reference: got %v, want 50", v)
	}
}

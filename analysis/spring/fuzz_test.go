package spring

import (
	"encoding/json"
	"errors"
	"testing"

	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// Whatever the sizes, Fit answers or gives a *quantity.InputError, and the answer has
// neither NaN nor infinity in it (JSON refuses both).
func FuzzFit(f *testing.F) {
	f.Add(0.045, 0.015, 0.0004, 1.7, 0.034, 13.75, 0.02, 0.0205, 12.0, 0.00002, byte(0xff))
	f.Add(0.045, 0.015, 0.0004, 17.0, 0.044, 50.0, 0.02, 0.0205, 0.0, 0.002, byte(0x0f))
	f.Add(1e-300, 1e-301, 1e-310, 1e300, 1e-300, 1e-300, 1e-300, 1e300, 1e-300, 1e-300, byte(0xff))
	f.Fuzz(func(t *testing.T, bore, arbor, strip, length, inner, coils, height, depth, hours, limit float64, which byte) {
		q := func(bit int, name string, v float64) *uncertainty.Quantity {
			if which&(1<<bit) == 0 {
				return nil
			}
			c := uncertainty.Limit(name, v, limit, "jaw", uncertainty.CauseInstrument)
			return &c
		}
		in := Input{
			Bore: q(0, "bore", bore), Arbor: q(1, "arbor", arbor), Strip: q(2, "strip", strip), Length: q(3, "length", length),
			Inner: q(4, "inner", inner), Coils: q(5, "coils", coils), Height: q(6, "height", height), Depth: q(7, "depth", depth),
			SetUp: q(5, "set-up", coils/10), Stop: q(6, "stop", hours), Fusee: q(7, "fusee", coils), Chain: q(7, "chain", hours),
			BarrelTurnHours: hours, Limits: DefaultLimits(),
			Stock: []Stock{{Name: "a", Thickness: uncertainty.Exact("t", 0.0004)}},
		}
		r, err := Fit(in)
		if err != nil {
			if _, ok := errors.AsType[*quantity.InputError](err); !ok {
				t.Fatalf("%v is no *quantity.InputError", err)
			}
			return
		}
		if _, err := json.Marshal(r); err != nil {
			t.Fatalf("%+v: %v", in, err)
		}
		if len(r.Cautions) == 0 {
			t.Fatal("no caution")
		}
	})
}

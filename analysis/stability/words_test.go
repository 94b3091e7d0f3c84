package stability

import (
	"math"
	"testing"
)

func TestSteadiest(t *testing.T) {
	at := func(v float64) *float64 { return &v }
	short := Row{TauS: 1, OADev: at(2e-6)}
	long := Row{TauS: 1024, OADev: at(1e-6), Low: at(0.5e-6), High: at(3e-6)}
	tests := []struct {
		name string
		rows []Row
		want string
	}{
		{"least", []Row{short, long, {TauS: 2048, OADev: at(4e-6)}}, "Steadiest over 17.1 min: 0.086 s/day (68 % interval 0.043 to 0.26)"},
		{"still falls", []Row{short, long}, "Steadiest over 17.1 min, or longer than this run can tell: 0.086 s/day (68 % interval 0.043 to 0.26)"},
		{"rises perhaps", []Row{short, long, {TauS: 2048, OADev: at(2e-6), Low: at(0.9e-6), High: at(7e-6)}}, "Steadiest over 17.1 min, or longer than this run can tell: 0.086 s/day (68 % interval 0.043 to 0.26)"},
		{"no interval", []Row{{TauS: 0.5}, short, {TauS: 2, OADev: at(3e-6)}}, "Steadiest over 1 s: 0.17 s/day"},
		{"a single term", []Row{short, {TauS: 2048, N: 1, OADev: at(1e-7)}}, "Steadiest over 1 s, or longer than this run can tell: 0.17 s/day"},
		{"of no clock", []Row{{TauS: 1, OADev: at(0)}, {TauS: 2, OADev: at(math.Inf(1))}, {TauS: 4, OADev: at(math.NaN())}}, ""},
		{"none", nil, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := Steadiest(tt.rows); got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

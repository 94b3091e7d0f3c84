package beat

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"evenbeat/sessions"
)

// troubled returns a clock's events in microseconds, with every kind of trouble.
func troubled(seed uint64) (ts []int64, interval float64) {
	c := clock{interval: []float64{0.125, 0.5, 1}[seed%3], beats: 6000, missed: 0.02, spurious: 0.02, offset: 0.002, rate: 40, seed: seed}
	c.jitter = c.interval * []float64{0.0005, 0.01, 0.05}[seed/3%3]
	if seed%2 == 1 {
		c.stops = [][2]float64{{2000.3 * c.interval, 37 * c.interval}}
	}
	ev, _ := c.hearLate(0.1 * float64(seed/2%2))
	for _, e := range ev {
		ts = append(ts, int64(math.Floor(e.t*1e6)))
	}
	return ts, c.interval
}

// Events taken in loads of any size, with the sums made beside or not, must say the
// same. That can be asked to the last bit: when a beat is expected differs by roundings,
// but that only decides what is taken for it.
func TestLoadsDontMatter(t *testing.T) {
	for seed := range uint64(90) {
		ts, interval := troubled(seed)
		o := Options{NominalInterval: interval, CountRate: 1e6, CountBits: 32, Arbors: watched}
		one, err := NewAnalyser(o)
		if err != nil {
			t.Fatal(err)
		}
		counts := make([]uint64, len(ts))
		for i, v := range ts {
			counts[i] = uint64(v) & 0xffffffff
			one.AddCount(counts[i], 0, false)
		}
		one.Close()
		want, err := one.Result()
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		got, err := Read(&memory{counts: counts}, o)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("seed %d: read beside: %d beats, rate %v, error %v; one by one %d, %v", seed, got.Beats, got.Rate, err, want.Beats, want.Rate)
		}
		rng := rand.New(rand.NewPCG(seed, 4))
		loads, err := NewAnalyser(o)
		if err != nil {
			t.Fatal(err)
		}
		for rest := counts; len(rest) > 0; {
			n := min(len(rest), 1+rng.IntN(40))
			loads.AddCounts(rest[:n], make([]int16, n))
			rest = rest[n:]
		}
		loads.Close()
		if got, err = loads.Result(); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("seed %d: in loads: %d beats, rate %v, error %v; one by one %d, %v", seed, got.Beats, got.Rate, err, want.Beats, want.Rate)
		}
	}
}

func TestStampedLoadsDontMatter(t *testing.T) {
	for seed := range uint64(12) {
		ts, interval := troubled(seed)
		rng := rand.New(rand.NewPCG(seed, 5))
		beats := make([]sessions.Beat, len(ts))
		reset := int64(0)
		for i, v := range ts {
			if i == len(ts)/2 && seed%4 == 0 {
				reset = v - 1000 // the sensor was pulled out and starts anew
			}
			late := int64(300_000 + 200_000*rng.Float64())
			beats[i] = sessions.Beat{Count: uint64(v-reset) & 0xffffffff, HostMono: v*1000 + late, HostUTC: v*1000 + late + 1_700_000_000_000_000_000}
		}
		o := Options{NominalInterval: interval, CountRate: 1e6, CountBits: 32, Stamped: true, Arbors: watched}
		results := make([]Result, 0, 2)
		for _, most := range []int{1, 5000} {
			a, err := NewAnalyser(o)
			if err != nil {
				t.Fatal(err)
			}
			add := func() error {
				for rest := beats; len(rest) > 0; {
					n := min(len(rest), most)
					a.Add(rest[:n])
					rest = rest[n:]
				}
				return nil
			}
			if most == 1 {
				if err := add(); err != nil {
					t.Fatal(err)
				}
				a.Close()
			} else if err := a.Beside(add); err != nil {
				t.Fatal(err)
			}
			r, err := a.Result()
			if err != nil {
				t.Fatalf("seed %d: %v", seed, err)
			}
			results = append(results, r)
		}
		if !reflect.DeepEqual(results[0], results[1]) {
			t.Errorf("seed %d: beat by beat %d beats, rate %v; in loads and beside %d, %v", seed, results[0].Beats, results[0].Rate, results[1].Beats, results[1].Rate)
		}
	}
}

package beat

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"evenbeat/analysis/timebase"
	"evenbeat/devices/quantity"
	"evenbeat/devices/simulate/held"
	"evenbeat/sessions"
)

// setSensor is a clock of two beats a second, heard by a sensor that tells the time of each
// beat. Its own clock is up to 100 ppm off, and is set once, by some seconds.
type setSensor struct {
	lengthS, by float64
	disturbed   float64                                  // share of the beats missed, and of echoes
	late        func(rng *rand.Rand, at float64) float64 // when a line that is sent then arrives
}

const toldStart = 1772366400e9 // ns since 1970

func (s setSensor) beats(seed uint64) (told []sessions.Beat, truth float64) {
	c := clock{interval: 0.5, beats: int(s.lengthS / 0.5), jitter: 80e-6, offset: 0.004, missed: s.disturbed, spurious: s.disturbed, rate: 12.5, seed: seed}
	ev, truth, _ := c.hear()
	rng := rand.New(rand.NewPCG(seed, 99))
	set, ppm, last := ev[0].t+s.lengthS*rng.Float64(), 100*(2*rng.Float64()-1), 0.0
	for _, e := range ev {
		last = max(last, s.late(rng, e.t))
		told = append(told, s.beat(e.t*(1+ppm*1e-6), e.t > set, last))
	}
	return told, truth
}

func (s setSensor) beat(count float64, set bool, arrival float64) sessions.Beat {
	if set {
		count += s.by
	}
	mono := int64(arrival * 1e9)
	return sessions.Beat{Count: uint64(toldStart + int64(count*1e9)), HostMono: mono, HostUTC: toldStart + mono}
}

// byToldTimes has the beats' own times analysed, on a computer whose clock is right.
func byToldTimes(t testing.TB, beats []sessions.Beat) *Analyser {
	t.Helper()
	a, err := NewAnalyser(Options{NominalInterval: 0.5, CountRate: 1e9, CountBits: 64, Stamped: true,
		Host: timebase.Host{Known: true, Synced: true, MaxErrorS: 1e-6}})
	if err != nil {
		t.Fatal(err)
	}
	for part := range slices.Chunk(beats, 7) {
		a.Add(part)
	}
	a.Close()
	return a
}

var latePorts = []struct {
	name string
	late func(rng *rand.Rand, at float64) float64
}{
	{"quiet port", func(rng *rand.Rand, at float64) float64 { return at + 300e-6 + 40e-6*rng.ExpFloat64() }},
	{"0 to 16 ms late", func(rng *rand.Rand, at float64) float64 { return at + 16e-3*rng.Float64() }},
	{"each 16 ms", func(_ *rand.Rand, at float64) float64 { return math.Ceil(at/16e-3) * 16e-3 }},
}

// The interval holds the truth though the sensor's clock is set in the middle of the run,
// and is as wide as without where the parts on both sides are long. Two parts of a short
// run tell less than the whole, and few windows hold more often than they say.
func TestCoverageOfASensorsClockThatIsSet(t *testing.T) {
	t.Parallel()
	for _, p := range latePorts {
		for _, by := range []float64{0, -0.7, -0.05, 0.05, 0.7, 1} {
			for lengthS, length := range map[float64]string{12: "12 s", 60: "1 min", 600: "10 min"} {
				kind := fmt.Sprintf("told times, set by %+g s, %s", by, p.name)
				t.Run(kind+", "+length, func(t *testing.T) {
					t.Parallel()
					s := setSensor{lengthS: lengthS, by: by, late: p.late}
					held.Count(t, held.Cell{What: "rate", Kind: kind, Length: length, Unit: "s/day", Low: 92, Up: 100,
						Run: func(seed uint64) (quantity.Value, float64, error) {
							beats, truth := s.beats(seed)
							a := byToldTimes(t, beats)
							r, err := a.Result()
							if n := a.told.Found().Times; n > 1 || by == 0 && n > 0 {
								err = errors.Join(err, fmt.Errorf("the sensor's clock is said to have been set %d times", n))
							}
							return r.Rate.Value, truth, err
						}})
				})
			}
		}
	}
}

// Where the sensor's clock is set, and by how much, is told. What is told doesn't depend
// on how the beats come in parts.
func TestSensorsClockThatIsSetIsTold(t *testing.T) {
	for _, by := range []float64{-86400, -0.7, -0.5, -0.05, 0.05, 0.5, 0.7, 1, 86400} {
		for seed := range uint64(20) {
			s := setSensor{lengthS: 60, by: by, late: latePorts[0].late}
			beats, _ := s.beats(seed)
			set := slices.IndexFunc(beats[1:], func(b sessions.Beat) bool {
				return math.Abs(float64(b.Count)-float64(b.HostUTC)-float64(beats[0].Count)+float64(beats[0].HostUTC)) > 0.8e9*math.Abs(by)
			}) + 1
			found := byToldTimes(t, beats).told.Found()
			if set < 2 || set > len(beats)-3 {
				continue // by one beat alone it isn't known whether it stays
			}
			at := float64(beats[set].HostMono-beats[0].HostMono) * 1e-9
			if found.Times != 1 || math.Abs(found.First.V-by) > 2e-3 || math.Abs(found.AtS-at) > 1e-6 {
				t.Errorf("set by %+g s at %g s, seed %d: told %+v", by, at, seed, found)
			}
		}
	}
}

// Lines that come late, one by one or all from some moment on, beats that are missed,
// echoes, beats that scatter, and a computer whose clock is set or that sleeps are no
// sensor's clock that is set: of some 600 times that lines come later or earlier from
// then on, no more than three are taken for one.
func TestSensorsClockIsNotSet(t *testing.T) {
	var wrong int64
	for seed := range uint64(100) {
		rng := rand.New(rand.NewPCG(seed, 5))
		c := clock{interval: 0.5, beats: 1200, jitter: []float64{80e-6, 5e-3}[seed%2], offset: 0.02, missed: 0.05, spurious: 0.05, rate: 12.5, seed: seed}
		ev, _, _ := c.hear()
		level, asleep, set, last := 0.0, 0.0, 0.0, 0.0
		var beats []sessions.Beat
		for _, e := range ev {
			delay := level + 300e-6 + 40e-6*rng.ExpFloat64()
			switch rng.IntN(200) {
			case 0:
				delay += rng.Float64() // the computer was busy
			case 1:
				level = 20e-3 * rng.Float64()
			case 2:
				set += 4*rng.Float64() - 2
			case 3:
				asleep += 0.4
			}
			last = max(last, e.t+delay)
			mono, utc := int64((last-asleep)*1e9), int64((last+set)*1e9)
			beats = append(beats, sessions.Beat{Count: uint64(toldStart + int64(e.t*1e9)), HostMono: mono, HostUTC: toldStart + utc})
		}
		wrong += byToldTimes(t, beats).told.Found().Times
	}
	if wrong > 3 {
		t.Errorf("the sensor's clock is said to have been set %d times", wrong)
	}
}

// A clock that is set again and again is told once, with the first time, and no
// counter that wrapped is told beside it.
func TestSensorsClockThatIsSetOften(t *testing.T) {
	var beats []sessions.Beat
	for i := range 1200 {
		at := float64(i) * 0.5
		s := setSensor{by: -0.7 * float64(i/300)}
		beats = append(beats, s.beat(at, true, at+1e-3+1e-5*float64(i%7)))
	}
	r, err := byToldTimes(t, beats).Result()
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"the sensor's clock was stepped 3 times, first by −0.70 s, 150 s after the first beat: the run is cut at each step"}
	if !slices.Equal(r.Warnings, want) || r.Segments != 4 {
		t.Errorf("%d segments, told %q", r.Segments, strings.Join(r.Warnings, "; "))
	}
}

// With a beat in fifty missed and as many echoes, hardly a step goes by untold.
func TestSensorsClockThatIsSetIsToldAmongEchoes(t *testing.T) {
	for _, by := range []float64{-0.7, -0.05, 0.05, 0.7, 1} {
		var told int64
		for seed := range uint64(50) {
			beats, _ := setSensor{lengthS: 120, by: by, disturbed: 0.02, late: latePorts[0].late}.beats(seed)
			told += byToldTimes(t, beats).told.Found().Times
		}
		if told < 44 || told > 50 {
			t.Errorf("set by %+g s: told %d times in 50 runs", by, told)
		}
	}
}

package train

import (
	"fmt"
	"math"
	"math/big"
	"strings"
	"testing"
)

// written writes a train as Parse reads it.
func written(t Train) string {
	text := ""
	for _, p := range t.Pairs {
		text += fmt.Sprintf("%d/%d,", p.Wheel, p.Pinion)
	}
	return text + fmt.Sprint(t.Escape)
}

// Trains of Beckett (A Rudimentary Treatise on Clocks, Watches, and Bells, 8th ed.)
// and Derham (The Artificial Clock-maker, 1696). Derham writes "p) W", the pinion
// that plays in the wheel of the arbor before.
func TestPublishedTrains(t *testing.T) {
	for _, c := range []struct {
		source, train string
		hourArbor     int
		beats         int64
		barrelHours   float64
		turns, days   float64 // 0: not printed
	}{
		{"Beckett p. 133: great wheel 12 h, 3600 beats", "96/8,64/8,60/8,30", 2, 3600, 12, 0, 0},
		{"Beckett p. 135: centre and second 96/8, 80/8", "96/8,80/8,30", 1, 7200, 1, 0, 0},
		{"Beckett p. 135: 84/8, 80/7", "84/8,80/7,30", 1, 7200, 1, 0, 0},
		{"Beckett p. 135: lantern pinions 72/6, 60/6", "72/6,60/6,30", 1, 7200, 1, 0, 0},
		// The turret trains start at a wheel that turns in 15 or 20 min: 40/10 and
		// 30/10 before it make the hour. Six beats a turn of the escape wheel.
		{"Beckett p. 185: 15 min, 100/10, 90/9, 9 s, 1½ s pendulum", "40/10,100/10,90/9,3", 1, 2400, 1, 0, 0},
		{"Beckett p. 185: last pair 96/8, 7.5 s, 1¼ s pendulum", "40/10,100/10,96/8,3", 1, 2880, 1, 0, 0},
		{"Beckett p. 185: last pair 108/9", "40/10,100/10,108/9,3", 1, 2880, 1, 0, 0},
		{"Beckett p. 186: 20 min, 100/10, 100/10, 2 s pendulum", "30/10,100/10,100/10,3", 1, 1800, 1, 0, 0},
		{"Derham p. 110: 8-day, 16 turns, 192 h", "96/8,60/8,56/7,30", 2, 3600, 12, 16, 8},
		{"Derham p. 112: 32-day, 96/16 and 16 turns", "96/16,72/9,60/8,56/7,30", 3, 3600, 48, 16, 32},
		{"Derham p. 112: 32-day, 96/12 and 12 turns", "96/12,72/9,60/8,56/7,30", 3, 3600, 64, 12, 32},
		// Printed 64 days; the train gives 63.33 exactly.
		{"Derham p. 113: two-month, 90/9, 76/8", "90/9,76/8,60/8,56/7,30", 3, 3600, 95, 16, 63 + 1./3},
		{"Derham p. 113: two-month, 80/8, 76/8", "80/8,76/8,60/8,56/7,30", 3, 3600, 95, 16, 63 + 1./3},
		{"Derham p. 115: year, 384 days", "108/12,72/9,64/8,60/8,56/7,30", 4, 3600, 576, 16, 384},
	} {
		tr, err := Parse(c.train, 2, c.hourArbor)
		if err != nil {
			t.Errorf("%s: %v", c.source, err)
			continue
		}
		if got := tr.BeatsPerHour(); got.Cmp(big.NewRat(c.beats, 1)) != 0 {
			t.Errorf("%s: %s beats/h, want %d", c.source, got.RatString(), c.beats)
		}
		if got := tr.BarrelTurnHours(); got != c.barrelHours {
			t.Errorf("%s: barrel turns in %v h, want %v", c.source, got, c.barrelHours)
		}
		if got := c.turns * tr.BarrelTurnHours() / 24; c.turns > 0 && math.Abs(got-c.days) > 1e-12 {
			t.Errorf("%s: goes %v days, want %v", c.source, got, c.days)
		}
		if written(tr) != c.train {
			t.Errorf("%s: written back as %s", c.source, written(tr))
		}
	}
}

// Beckett p. 185 and 186 print the turns of the arbors: 15 min, then the escape
// wheel in 9 s; 20 min, 2 min, 12 s.
func TestPublishedPeriods(t *testing.T) {
	for _, c := range []struct {
		train string
		want  []float64
	}{
		{"40/10,100/10,90/9,3", []float64{3600, 900, 90, 9}},
		{"30/10,100/10,100/10,3", []float64{3600, 1200, 120, 12}},
	} {
		tr, err := Parse(c.train, 2, 1)
		if err != nil {
			t.Fatal(err)
		}
		for i, a := range tr.Arbors() {
			if a.PeriodS != c.want[i] {
				t.Errorf("%s: arbor %d turns in %v s, printed %v", c.train, a.Arbor, a.PeriodS, c.want[i])
			}
		}
	}
}

// Beckett p. 139 prints 29 d 12 h 44 m 3.4 s for a moon train of 6 into 91, 9 into
// 91 and 37 into 171 from a one-hour arbor; the wheels give 3.2 s. P. 140: 15 into
// 98, 25 into 113 from a 24 h wheel, 708.736 h.
func TestMoonTrains(t *testing.T) {
	hours := func(r *big.Rat, of float64) float64 { f, _ := r.Float64(); return of * f }
	got := hours(Ratio(Pair{91, 6}, Pair{91, 9}, Pair{171, 37}), 1)
	if want := 29*24 + 12 + 44./60 + 3.2/3600; math.Abs(got-want) > 0.05/3600 {
		t.Errorf("moon train of p. 139: %.6f h, want %.6f", got, want)
	}
	if got := hours(Ratio(Pair{98, 15}, Pair{113, 25}), 24); math.Abs(got-708.736) > 1e-9 {
		t.Errorf("moon train of p. 140: %.6f h, printed 708.736", got)
	}
}

func TestArborsAreNamedByPlace(t *testing.T) {
	for _, c := range []struct {
		train string
		hour  int
		want  string
	}{
		{"96/8,80/10,75/10,30", 2, "barrel centre third escape"},
		{"72/9,96/8,80/10,75/10,30", 3, "barrel intermediate centre third escape"},
		{"108/12,72/9,64/8,60/8,56/7,30", 4, "barrel first intermediate second intermediate centre third escape"},
		{"96/8,80/10,75/10,60/10,15", 2, "barrel centre third fourth escape"},
		{"96/8,80/8,30", 1, "barrel third escape"},
		{"30", 1, "barrel"},
	} {
		tr, err := Parse(c.train, 2, c.hour)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, a := range tr.Arbors() {
			names = append(names, a.Name)
		}
		if got := strings.Join(names, " "); got != c.want {
			t.Errorf("%s, hour arbor %d: %s, want %s", c.train, c.hour, got, c.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct {
		text       string
		beats, arb int
		want       string
	}{
		{"", 2, 1, "train is empty"},
		{"96/8,,30", 2, 1, "wheel 2 is missing"},
		{"96/8,80/10", 2, 1, "end with the escape wheel alone"},
		{"96/8,80,30", 2, 1, "wheel 2 (80) drives no pinion"},
		{"96/8 80/10 75/10 30", 2, 2, "a comma after each pair, such as 96/8,80/10,75/10,30"},
		{"96:8,80:10,75:10,30", 2, 2, `"96:8" can't be read: write a slash`},
		{"96/8;80/10;30", 2, 2, "a comma after each pair"},
		{"96 8,30", 2, 2, `"96 8" can't be read`},
		{"96/8,75 30", 2, 2, `"75 30" can't be read`},
		{"96/0,30", 2, 1, `"0" in "96/0"`},
		{"-96/8,30", 2, 1, `"-96" in "-96/8"`},
		{"96/8/7,30", 2, 1, `"8/7" in "96/8/7"`},
		{"NaN/8,30", 2, 1, `"NaN"`},
		{"96/8,3e1", 2, 1, `"3e1"`},
		{"99999999999999999999/8,30", 2, 1, "no count of teeth"},
		{"96/8,30", 0, 1, "beats per tooth 0"},
		{"96/8,30", 9, 1, "beats per tooth 9"},
		{"96/8,30", 2, 3, "hour arbor 3: the train \"96/8,30\" has arbors 1 (barrel) to 2 (escape): name the one"},
		{"96/8,30", 2, 0, "hour arbor 0"},
		{strings.Repeat("96/8,", 13) + "30", 2, 1, "14 wheels"},
	} {
		if _, err := Parse(c.text, c.beats, c.arb); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: error %v, want one with %q", c.text, err, c.want)
		}
	}
}

func TestNear(t *testing.T) {
	got := Near(0.4)
	if len(got) != 1 || got[0].BeatsPerHour != 9000 || math.Abs(got[0].SecPerDay) > 1e-9 {
		t.Errorf("0.4 s: %+v, want 9000 beats/h alone", got)
	}
	// A second's pendulum that beats in 0.9999 s gains 8.64 s/day.
	if got := Near(0.9999); len(got) != 1 || math.Abs(got[0].SecPerDay-8.6409) > 1e-4 {
		t.Errorf("0.9999 s: %+v", got)
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1), 0.85} {
		if got := Near(bad); got != nil {
			t.Errorf("%v s: %+v, want none", bad, got)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add("96/8,80/10,75/10,30", 2, 2)
	f.Add(" 40 / 10 , 3", 1, 1)
	f.Fuzz(func(t *testing.T, text string, beats, hour int) {
		tr, err := Parse(text, beats, hour)
		if err != nil {
			return
		}
		if again, err := Parse(written(tr), beats, hour); err != nil || written(again) != written(tr) {
			t.Errorf("%q: written as %s, read back %s, %v", text, written(tr), written(again), err)
		}
		if i := tr.Interval(); !(i > 0) || math.IsInf(i, 1) {
			t.Errorf("%q: interval %v", text, i)
		}
	})
}

func ExampleParse() {
	t, err := Parse("96/8,80/10,75/10,30", 2, 2)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(t.BeatsPerHour().RatString(), "beats an hour; the barrel turns in", t.BarrelTurnHours(), "hours")
	for _, a := range t.Arbors() {
		fmt.Println(a.Arbor, a.Name, a.PeriodS, "s")
	}
	// Output:
	// 3600 beats an hour; the barrel turns in 12 hours
	// 1 barrel 43200 s
	// 2 centre 3600 s
	// 3 third 450 s
	// 4 escape 60 s
}

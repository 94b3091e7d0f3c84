package configs

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"

	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// someFormats are wire formats of each kind, as the program hands them in.
func someFormats() []Profile {
	return []Profile{
		{Name: "text-length", Title: "length as a line of text", Kind: KindCaliper, LimitOutsideMM: 0.02, LimitInsideMM: 0.04},
		{Name: "polled-length", Title: "length as text, when asked", Kind: KindIndicator,
			Request: "\r", RequestEveryS: 0.5, LimitOutsideMM: 0.02, LimitInsideMM: 0.04},
		{Name: "count-lines", Title: "beats as lines with a count", Kind: KindBeat, Baud: 115200, CountRate: 1e6, CountBits: 32},
		{Name: "byte-beats", Title: "beats as single bytes", Kind: KindBeat},
		{Name: "text-force", Title: "force or torque as a line of text", Kind: KindForce},
	}
}

// builtIn returns what is there without any settings file.
func builtIn(t *testing.T) Loaded {
	t.Helper()
	l, err := Load(LoadOptions{Formats: someFormats()})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestBuiltInProfiles(t *testing.T) {
	all, err := builtIn(t).Profiles()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		if p.Title == "" || !p.BuiltIn() {
			t.Errorf("%s: title %q, from %s", p.Name, p.Title, p.From)
		}
	}
	var bad *Error
	_, err = profiles(read{}, []Profile{{Name: "new-lines", Kind: "ruler"}})
	if !errors.As(err, &bad) || !strings.Contains(err.Error(), `profile new-lines: kind "ruler" is not known`) {
		t.Errorf("a wire format of no known kind: %v", err)
	}
}

func TestInstrumentLimits(t *testing.T) {
	// DIN 862: caliper with steps of 0.01 mm, 20 µm over short lengths, 20 µm more
	// for inside and depth. DIN 863: micrometer to 50 mm, 4 µm.
	tests := []struct {
		name                     string
		step, outside, inside    float64
		rate                     float64
		bits, baud               int
		format, kind, unit, port string
	}{
		{"caliper", 0.01, 0.02, 0.04, 0, 0, 9600, "text-length", "caliper", "mm", "none"},
		{"micrometer", 0.001, 0.004, 0, 0, 0, 9600, "text-length", "micrometer", "mm", "none"},
		{"beat-counter", 0, 0, 0, 1e6, 32, 115200, "count-lines", "beat", "", "none"},
	}
	l := builtIn(t)
	for _, test := range tests {
		p, err := l.Profile(test.name)
		if err != nil {
			t.Fatal(err)
		}
		if p.ResolutionMM != test.step || p.LimitOutsideMM != test.outside || p.LimitInsideMM != test.inside ||
			p.CountRate != test.rate || p.CountBits != test.bits || p.Baud != test.baud ||
			p.Format != test.format || p.Kind != test.kind || p.Unit != test.unit || p.Parity != test.port {
			t.Errorf("got %+v", p)
		}
	}
	_, err := l.Profile("calliper")
	refused(t, err, "profile calliper is not known: did you mean caliper?")
	_, err = l.Profile("xyzzy")
	refused(t, err, "profile xyzzy is not known: use beat-counter, byte-beats, caliper, "+
		"count-lines, micrometer, polled-length, text-force or text-length")
}

func TestBuiltInPlans(t *testing.T) {
	l := builtIn(t)
	all, err := l.plans()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		if len(p.Cautions) == 0 || p.from != (Source{}) {
			t.Errorf("%s: %d cautions, from %s", p.Name, len(p.Cautions), p.from)
		}
		for _, s := range p.Steps {
			if !strings.HasSuffix(s.Ask, ".") || s.Kind != sessions.Typed && s.Count > 1 && s.Spread == "" {
				t.Errorf("%s, %s: asks %q with the spread %q, want a full stop, and a spread where it is measured more than once", p.Name, s.Dimension, s.Ask, s.Spread)
			}
		}
	}
	if names := PlanNames(); len(names) != len(all) || !slices.EqualFunc(names, all, func(n string, p ownedPlan) bool { return n == p.Name }) {
		t.Errorf("named are %v", names)
	}
	for name, part := range map[string]string{"mainspring": "barrel", "in-place": "barrel", "pendulum": "pendulum",
		"pivot": "pivot", "bushing": "bushing", "wheel": "wheel"} {
		if p, err := l.Plan(name); err != nil || p.Part != part {
			t.Errorf("%s: part %q, %v", name, p.Part, err)
		}
	}
	_, err = l.Plan("main-spring")
	refused(t, err, "plan main-spring is not known: did you mean mainspring?")
}

// The order in which a mainspring and its barrel are measured.
func TestMainspringPlan(t *testing.T) {
	p, err := builtIn(t).Plan("mainspring")
	if err != nil {
		t.Fatal(err)
	}
	want := []struct {
		dimension, spread string
		kind              sessions.Kind
		count             int
	}{
		{"bore", "60°", sessions.Inside, 3},
		{"depth", "", sessions.Depth, 1},
		{"arbor", "90°", sessions.Outside, 2},
		{"strip", "along the strip", sessions.Outside, 5},
		{"height", "along the strip", sessions.Outside, 3},
		{"length", "", sessions.Typed, 1},
	}
	if len(p.Steps) != len(want) {
		t.Fatalf("%d steps", len(p.Steps))
	}
	for i, w := range want {
		s := p.Steps[i]
		if s.Dimension != w.dimension || s.Spread != w.spread || s.Kind != w.kind || s.Count != w.count {
			t.Errorf("step %d: got %+v, want %+v", i+1, s, w)
		}
	}
	all := strings.Join(p.Cautions, " ")
	for _, word := range []string{"Let it down", "winder", "eye and face", "never by hand alone", "out of the line", "Local rules"} {
		if !strings.Contains(all, word) {
			t.Errorf("the cautions don't say %q", word)
		}
	}
	// The barrels of a carriage clock and of a long-case conversion, in mm.
	for dimension, mm := range map[string][2]float64{"bore": {20, 100}, "arbor": {7, 33}, "strip": {0.25, 0.9}} {
		i := slices.IndexFunc(p.Steps, func(s plan.Step) bool { return s.Dimension == dimension })
		low, high, vary := p.Steps[i].Min, p.Steps[i].Max, p.Steps[i].Vary
		if low > mm[0]/1000 || high < mm[1]/1000 || !(vary > 0 && vary < low*1000) {
			t.Errorf("%s: %v to %v m, may vary by %v m", dimension, low, high, vary)
		}
	}
}

func TestCountRange(t *testing.T) {
	p, err := builtIn(t).Plan("wheel")
	if err != nil {
		t.Fatal(err)
	}
	if s := p.Steps[1]; s.Min != 8 || s.Max != 400 || s.Vary != 0 {
		t.Errorf("teeth: %v to %v, may vary by %v", s.Min, s.Max, s.Vary)
	}
}

// A user's file changes a built-in profile, adds one over a wire format, replaces a
// plan, and says where each came from.
func TestOwnProfilesAndPlans(t *testing.T) {
	l, err := load(t, `profiles:
  - name: caliper
    baud: 4800
    dtr: true
  - name: bench-indicator
    format: polled-length
    request: "?\r\n"
    request_every_s: 0.25
    unit: mm
    resolution_mm: 0.001
plans:
  - name: pivot
    title: a pivot, in one go
    part: centre
    steps:
      - {dimension: shoulder, ask: Measure the pivot., count: 2, spread: 90°, kind: outside, min_mm: 0.3, max_mm: 9}
`)
	if err != nil {
		t.Fatal(err)
	}
	caliper, err := l.Profile("caliper")
	if err != nil || caliper.Baud != 4800 || caliper.DTR == nil || !*caliper.DTR || caliper.RTS != nil ||
		caliper.LimitInsideMM != 0.04 || caliper.Format != "text-length" || caliper.BuiltIn() {
		t.Errorf("got %+v, %v", caliper, err)
	}
	indicator, err := l.Profile("bench-indicator")
	if err != nil || indicator.Kind != KindIndicator || indicator.Request != "?\r\n" || indicator.RequestEveryS != 0.25 ||
		indicator.Baud != 9600 || indicator.From.Line != 5 {
		t.Errorf("got %+v, %v", indicator, err)
	}
	all, err := l.Profiles()
	if err != nil {
		t.Fatal(err)
	}
	if before, err := builtIn(t).Profiles(); err != nil || len(all) != len(before)+1 {
		t.Errorf("%d profiles, %d built in, %v", len(all), len(before), err)
	}
	// As it is listed for other programs: what is not known is left out.
	text, err := json.Marshal(indicator)
	want := `{"name":"bench-indicator","title":"length as text, when asked","format":"polled-length","kind":"indicator",` +
		`"baud":9600,"bits":8,"parity":"none","stop":1,"request":"?\r\n","request_every_s":0.25,"unit":"mm","resolution_mm":0.001,` +
		`"limit_outside_mm":0.02,"limit_inside_mm":0.04,"from":"` + l.File + `:5"}`
	if err != nil || string(text) != want {
		t.Errorf("got  %s, %v\nwant %s", text, err, want)
	}
	pivot, err := l.Plan("pivot")
	if err != nil || pivot.Part != "centre" || len(pivot.Steps) != 1 {
		t.Errorf("got %+v, %v", pivot, err)
	}
	var brought []string
	for _, e := range l.Entries() {
		if e.Key == "profiles" || e.Key == "plans" {
			brought = append(brought, e.Value.(string)+" "+e.From[strings.LastIndexByte(e.From, '/')+1:])
		}
	}
	if want := []string{"bench-indicator bench.yaml:5", "caliper bench.yaml:2", "pivot bench.yaml:12"}; !slices.Equal(brought, want) {
		t.Errorf("got %q, want %q", brought, want)
	}
}

func TestEdits(t *testing.T) {
	// By hand: one swap of neighbours, one change, one letter more, three of "kitten".
	for _, test := range []struct {
		a, b string
		want int
	}{{"untis", "units", 1}, {"unims", "units", 1}, {"unit", "units", 1}, {"kitten", "sitting", 3}, {"", "abc", 3}, {"abc", "", 3}, {"a", "a", 0}} {
		if got := edits(test.a, test.b); got != test.want {
			t.Errorf("%s to %s: %d, want %d", test.a, test.b, got, test.want)
		}
	}
}

package analysis

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

const mm = 1e-3

var noon = time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)

// bench writes a record as a measuring session would.
type bench struct {
	rec     sessions.Record
	session int64
	at      time.Time
}

func newBench(trainText string) *bench {
	return &bench{rec: sessions.Record{Clock: sessions.Clock{Name: "hall", Train: trainText}}, at: noon}
}

func (b *bench) sit() *bench {
	b.session++
	return b
}

// take adds readings in millimetres.
func (b *bench) take(dimension, instrument string, limit float64, values ...float64) *bench {
	step := 0.01 * mm
	if instrument == "micrometer" {
		step = 0.001 * mm
	}
	for _, v := range values {
		b.at = b.at.Add(time.Second)
		b.rec.Readings = append(b.rec.Readings, sessions.Reading{
			ID: int64(len(b.rec.Readings) + 1), SessionID: b.session, At: b.at, Part: "barrel", Dimension: dimension, Kind: sessions.UsualKind(dimension),
			Value: v * mm, Limit: limit * mm, Step: step, Instrument: instrument, State: sessions.Kept,
		})
	}
	return b
}

// barrel is a whole session with a caliper: fill about 0.58 with a 0.45 strip.
func (b *bench) barrel(strip ...float64) *bench {
	return b.sit().take("zero", "caliper", 0.02, 0.01).
		take("bore", "caliper", 0.04, 45.01, 45.02, 45.01).take("depth", "caliper", 0.04, 22.51).
		take("arbor", "caliper", 0.02, 15.01, 15.01).take("strip", "caliper", 0.02, strip...).
		take("height", "caliper", 0.02, 22.01, 22.01, 22.02).take("length", sessions.TypedInstrument, 0, 1830)
}

func fit(t *testing.T, rec sessions.Record, given map[string]quantity.Number) spring.Result {
	t.Helper()
	r, err := Spring(rec, "", given, usualSpringOptions())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.8g, want %.8g ± %.2g", what, got, want, tolerance)
	}
}

func told(lines []string, part string) bool { return strings.Contains(strings.Join(lines, "\n"), part) }

// The zero of the session corrects what the caliper measured and nothing else; the
// mean is used; the train gives the hours.
func TestSpringFromRecord(t *testing.T) {
	r := fit(t, newBench("96/4,80/10,75/10,30").barrel(0.46, 0.46, 0.46, 0.46, 0.46).rec, nil)
	near(t, "bore, mm", r.Bore.V/mm, 45.01333333-0.01, 1e-6)
	near(t, "strip, mm", r.Strip.V/mm, 0.45, 1e-9)
	near(t, "length, mm", r.Length.V/mm, 1830, 1e-9)
	near(t, "hours", r.GoingHours.V, 24*r.Turns.V, 1e-9)
	// By hand: limit 20 µm; outside readings scatter by 5.774 µm with 2 degrees of
	// freedom (height) and by nothing with 5 (arbor, strip), together by 3.086 µm, which
	// is more than rounding adds. So √(11.547² + 3.086²/5 + 3.086²) = 12.032 µm.
	near(t, "u of the strip, µm", r.Strip.U/1e-6, 12.032, 1e-3)
	if r.Verdict != spring.CannotTell || !told(r.Next, "measure the strip with a micrometer") {
		t.Errorf("with a caliper: %q, next %q", r.Verdict, r.Next)
	}
	if r.Part != "barrel" || !told(r.Reasons, "laid along a rule") {
		t.Errorf("part %q, notes %q", r.Part, r.Reasons)
	}
}

// A micrometer reading (±0.002 mm) added to the same record settles what the caliper
// left open: in a session of its own, and within the caliper's. Combined by their
// uncertainties, 0.4480 of 12.0 µm weighs hardly anything beside 0.4500 of √(1.155² + 0.316² + 0.5²) =
// 1.298 µm (limit, scatter of five, half of their variance for the zero).
func TestMicrometerAddedToTheRecord(t *testing.T) {
	for name, add := range map[string]func(*bench) *bench{
		"a later session":  (*bench).sit,
		"the same session": func(b *bench) *bench { return b },
	} {
		b := newBench("").barrel(0.46, 0.45, 0.46, 0.46, 0.46)
		add(b).take("zero", "micrometer", 0.002, 0).take("strip", "micrometer", 0.002, 0.450, 0.451, 0.450, 0.449, 0.450)
		r := fit(t, b.rec, nil)
		near(t, name+": strip, mm", r.Strip.V/mm, 0.44997898, 1e-7)
		near(t, name+": u of the strip, µm", r.Strip.U/1e-6, 1.291, 1e-3)
		if r.Verdict != spring.Fits {
			t.Errorf("%s: %q, fill %s", name, r.Verdict, r.Fill.Text(""))
		}
		near(t, name+": bore, mm", r.Bore.V/mm, 45.00333333, 1e-6)
	}
}

func TestStatesOfReadings(t *testing.T) {
	b := newBench("").barrel(0.41, 0.41, 0.41, 0.99, 0.90)
	last := len(b.rec.Readings)
	b.rec.Readings[last-6].State = sessions.Undone   // 0.99
	b.rec.Readings[last-5].State = sessions.Doubtful // 0.90
	near(t, "strip of kept readings, mm", fit(t, b.rec, nil).Strip.V/mm, 0.40, 1e-9)
	for i := range b.rec.Readings {
		if r := &b.rec.Readings[i]; r.Dimension == "strip" && r.State == sessions.Kept {
			r.State = sessions.Undone
		}
	}
	r := fit(t, b.rec, nil)
	near(t, "strip of doubtful readings, mm", r.Strip.V/mm, 0.89, 1e-9)
	if !told(r.Reasons, "only doubtful readings") {
		t.Errorf("doubtful readings are used and not told: %q", r.Reasons)
	}
}

// A newer reading that contradicts an older one is used, and the short answer asks which.
func TestContradictionIsTold(t *testing.T) {
	b := newBench("").barrel(0.41, 0.41, 0.41, 0.41, 0.41)
	b.sit().take("bore", "caliper", 0.04, 46.00)
	r := fit(t, b.rec, nil)
	near(t, "bore of the second session, mm", r.Bore.V/mm, 46, 1e-9) // without zero reading
	near(t, "arbor of the first, mm", r.Arbor.V/mm, 15, 1e-9)
	if want := "The bore is 46.00 ± 0.04 mm by caliper (reading 17 of 2026-05-04), and was 45.00 ± 0.04 mm by caliper (reading 2 of 2026-05-04): which?"; len(r.Matters) == 0 || !strings.HasPrefix(r.Matters[0], want) {
		t.Errorf("told first: %q, want %q", r.Matters, want)
	}
	if !told(r.Reasons, "no closed-jaws reading") {
		t.Errorf("a session without zero is not told: %q", r.Reasons)
	}
}

// Values given win over the record, with the assumed limit: ±0.02 mm outside, ±0.04
// mm inside (DIN 862), told; a stated one is taken instead. 0.400±0.008mm is u =
// 0.008/√3, 0.400(8)mm is u = 0.008 (JCGM 100:2008, 4.3.7 and 7.2.2).
func TestGivenValuesWin(t *testing.T) {
	given := map[string]quantity.Number{}
	for name, text := range map[string]string{"bore": "63.5mm", "arbor": "15.875mm", "strip": "0.5588mm", "length": "110in"} {
		l, err := quantity.ParseLength(text, quantity.NoUnit)
		if err != nil {
			t.Fatal(err)
		}
		given[name] = l.Number()
	}
	r := fit(t, newBench("").barrel(0.46).rec, given)
	near(t, "fill", r.Fill.V, 0.5259, 5e-5)
	near(t, "turns", r.Turns.V, 11.782, 5e-4)
	near(t, "u of the bore, µm", r.Bore.U/1e-6, 23.094, 1e-3)
	near(t, "u of the strip, µm", r.Strip.U/1e-6, 11.547, 1e-3)
	if r.Verdict != spring.Fits || !told(r.Reasons, "±0.02 mm (a setting)") {
		t.Errorf("verdict %q, reasons %q", r.Verdict, r.Reasons)
	}
	for text, want := range map[string]float64{"0.400±0.008mm": 8 / math.Sqrt(3), "0.400(8)mm": 8} {
		l, err := quantity.ParseLength(text, quantity.NoUnit)
		if err != nil {
			t.Fatal(err)
		}
		given["strip"] = l.Number()
		near(t, text+": u, µm", fit(t, sessions.Record{}, given).Strip.U/1e-6, want, 1e-6)
	}
}

// A strip given as read with the caliper of the record shares its error with the recorded
// arbor; typed by hand it doesn't. In the fill both count the same way: a strip and an
// arbor that are read too large make the strip take more of the space. So the shared error
// leaves the fill less sure: by hand, with t = 0.4, D = 45 and d = 15 mm, 1/t + 2d/(D²−d²)
// of 11.547 µm, 2.906 %, against √((1/t)² + (2d/(D²−d²))²), 2.887 %.
func TestGivenByTheCaliper(t *testing.T) {
	b := newBench("").sit().take("zero", "caliper", 0.02, 0, 0).take("bore", "caliper", 0.000001, 45).take("arbor", "caliper", 0.02, 15)
	given := map[string]quantity.Number{"strip": {V: 0.4 * mm}, "length": {V: 1767 * mm, Stated: true, U: 1e-9}}
	o := usualSpringOptions()
	for name, want := range map[string]float64{"": 2.8868, "caliper": 2.9060} {
		for i := range b.rec.Readings {
			b.rec.Readings[i].Step = 1e-9 // the limit alone
		}
		o.Given = GivenBy{Name: name, Outside: 0.02 * mm, Inside: 0.04 * mm}
		if name == "" {
			o.Given = GivenBy{}
		}
		r, err := Spring(b.rec, "", given, o)
		if err != nil {
			t.Fatal(err)
		}
		near(t, fmt.Sprintf("given by %q: u of the fill, %%", name), 100*r.Fill.U/r.Fill.V, want, 1e-3)
		if told(r.Reasons, "read with the caliper, outside good to ±0.02 mm") != (name != "") {
			t.Errorf("given by %q: %q", name, r.Reasons)
		}
	}
}

// --inner given where the record has a length: it rules, and both are compared.
func TestGivenInnerRules(t *testing.T) {
	b := newBench("").barrel(0.41, 0.41, 0.41, 0.41, 0.41)
	r := fit(t, b.rec, map[string]quantity.Number{"inner": {V: 34 * mm}})
	near(t, "fill", r.Fill.V, (math.Pow(45.00333, 2)-34*34)/(math.Pow(45.00333, 2)-15*15), 1e-6)
	if r.LengthFrom != spring.FromInner || len(r.InPlace) != 2 {
		t.Errorf("length from %q, %d ways", r.LengthFrom, len(r.InPlace))
	}
}

func TestSpringRefuses(t *testing.T) {
	two := newBench("").sit()
	for _, part := range []string{"going barrel", "striking barrel"} {
		two.rec.Readings = append(two.rec.Readings, sessions.Reading{SessionID: 1, Part: part, Dimension: "bore", Value: 0.04, State: sessions.Kept})
	}
	bad := newBench("96/8,x,30").barrel(0.4)
	for _, c := range []struct {
		name  string
		rec   sessions.Record
		given map[string]quantity.Number
		want  string
	}{
		{"swapped", sessions.Record{}, map[string]quantity.Number{"bore": {V: 0.0159}, "arbor": {V: 0.0635}}, "were the two swapped?"},
		{"unknown", sessions.Record{}, map[string]quantity.Number{"colour": {V: 1}}, "colour: no dimension"},
		{"nothing", sessions.Record{}, nil, "are not known"},
		{"parts", two.rec, nil, "name one with --part"},
		{"NaN", sessions.Record{}, map[string]quantity.Number{"bore": {V: math.NaN()}}, "bore NaN"},
	} {
		_, err := Spring(c.rec, "", c.given, usualSpringOptions())
		if _, ok := errors.AsType[*quantity.InputError](err); !ok || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want a *quantity.InputError with %q", c.name, err, c.want)
		}
	}
	if _, err := Spring(bad.rec, "", nil, usualSpringOptions()); err == nil || !strings.Contains(err.Error(), "clock hall: train") {
		t.Errorf("bad train: %v", err)
	}
}

// Typed by hand, a size has the limit that was taken of typed lengths (0.02 mm
// more inside, DIN 862), and it is told; that it was written as 2.5in is no display of
// tenths of an inch. What it states itself keeps its shape: ±0.008 mm ends there, so
// 95 % lie within 0.0076 mm, while a standard uncertainty of 0.008 mm reaches twice as
// far.
func TestTypedReadings(t *testing.T) {
	b := newBench("").sit().take("bore", sessions.TypedInstrument, 0.02, 63.5).take("arbor", sessions.TypedInstrument, 0.02, 15.9).take("strip", sessions.TypedInstrument, 0, 0.4)
	for i := range b.rec.Readings {
		b.rec.Readings[i].Step = 2.54 * mm
	}
	strip := &b.rec.Readings[2]
	strip.Text, strip.U, strip.Rectangular = "0.400±0.008mm", 0.008*mm/math.Sqrt(3), true
	r := fit(t, b.rec, nil)
	for name, c := range map[string]struct{ got, want float64 }{
		"u of the bore":         {r.Bore.U, 0.04 * mm / math.Sqrt(3)},
		"u of the arbor":        {r.Arbor.U, 0.02 * mm / math.Sqrt(3)},
		"u of the strip":        {r.Strip.U, 0.008 * mm / math.Sqrt(3)},
		"interval of the strip": {r.Strip.Half95(), 0.95 * 0.008 * mm},
	} {
		if math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", name, c.got, c.want)
		}
	}
	if !strings.Contains(strings.Join(r.Reasons, " "), "taken as good to ±0.04 mm (a setting, and ±0.02 mm more inside)") {
		t.Errorf("what is assumed is not told: %q", r.Reasons)
	}
	strip.Text, strip.U, strip.Rectangular = "0.400(8)mm", 0.008*mm, false
	if got := fit(t, b.rec, nil).Strip.Half95(); math.Abs(got-1.96*0.008*mm) > 1e-8 {
		t.Errorf("0.400(8)mm reaches %v, want 1.96 times 8 µm", got)
	}
}

// A zero that was typed, or wedged in as keys, is taken off like a caliper's: off sizes
// between jaws, not off a length laid along a rule. Without one nothing is corrected,
// and nobody is asked for one: what is typed may come from anywhere.
func TestTypedZero(t *testing.T) {
	typed := func(b *bench) *bench {
		return b.take("bore", sessions.TypedInstrument, 0.02, 45.05).take("depth", sessions.TypedInstrument, 0.02, 22.55).take("arbor", sessions.TypedInstrument, 0.02, 15.05).
			take("strip", sessions.TypedInstrument, 0.02, 0.45).take("length", sessions.TypedInstrument, 0.02, 1830)
	}
	r := fit(t, typed(newBench("").sit().take("zero", sessions.TypedInstrument, 0.02, 0.05)).rec, nil)
	near(t, "bore, mm", r.Bore.V/mm, 45, 1e-9)
	near(t, "depth, mm", r.Depth.V/mm, 22.5, 1e-9)
	near(t, "arbor, mm", r.Arbor.V/mm, 15, 1e-9)
	near(t, "strip, mm", r.Strip.V/mm, 0.40, 1e-9)
	near(t, "length, mm", r.Length.V/mm, 1830, 1e-9)
	r = fit(t, typed(newBench("").sit()).rec, nil)
	near(t, "strip without a zero, mm", r.Strip.V/mm, 0.45, 1e-9)
	if told(r.Reasons, "zero error is taken as none") {
		t.Errorf("a zero of the keyboard is asked for: %q", r.Reasons)
	}
}

// A whole number of coils may have left out up to half a turn on either side; one with a
// fraction was counted finer.
func TestCoilsCounted(t *testing.T) {
	for coils, want := range map[float64]float64{14: 0.5, 13.75: 0.25} {
		r := fit(t, sessions.Record{}, map[string]quantity.Number{"bore": {V: 45 * mm}, "arbor": {V: 15 * mm}, "strip": {V: 0.4 * mm}, "coils": {V: coils}})
		near(t, fmt.Sprintf("u of %g coils", coils), r.Coils.U, want/math.Sqrt(3), 1e-12)
	}
}

// Readings so far apart that no part is so uneven are of different things. That leads what
// is told; a strip that tapers by an eighth is one strip.
func TestReadingsOfSomethingElse(t *testing.T) {
	const want = "Readings of the arbor differ by 4.00 mm: they can't all be right. Take the wrong ones back, or measure the arbor again."
	b := newBench("96/8,80/10,75/10,30").barrel(0.45, 0.45, 0.40)
	r := fit(t, b.take("arbor", "caliper", 0.02, 11.01).rec, nil)
	if len(r.Reasons) == 0 || r.Reasons[0] != want {
		t.Errorf("reasons: %q, want %q first", r.Reasons, want)
	}
	if !told(r.Reasons, "the strip is uneven or tapered") {
		t.Errorf("reasons: %q", r.Reasons)
	}
}

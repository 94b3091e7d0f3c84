package plots

import (
	"bytes"
	"encoding/xml"
	"errors"
	"html"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/spring"
	"evenbeat/sessions"
)

func mustSheet(t *testing.T, in SheetInput) string {
	t.Helper()
	var b bytes.Buffer
	if err := Sheet(&b, in); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestSheetTellsAll(t *testing.T) {
	in := sheetExample()
	slip := sessions.Event{ID: 99, At: in.Made, Kind: sessions.EventOiled, Text: "the wrong clock"}
	in.Findings.Record.Withdrawn = sessions.Withdrawn{
		Events:   []sessions.TakenBack[sessions.Event]{{Row: slip, Why: "of another"}},
		Checks:   []sessions.TakenBack[sessions.Check]{{Row: sessions.Check{At: in.Made, ErrorS: 61, U: 0.3}, Why: "misread"}},
		Air:      []sessions.TakenBack[sessions.Air]{{Row: sessions.Air{At: in.Made}}},
		Sessions: []sessions.TakenBack[sessions.Session]{{Row: sessions.Session{Kind: sessions.SessionTime, Started: in.Made}}},
	}
	page := mustSheet(t, in)
	shown := html.UnescapeString(page)
	f := in.Findings
	want := []string{
		"<h1>Orchard House regulator</h1>", "Made 16 March 2026, 18:05 CET by evenbeat, version 0.1", "3600 beats an hour",
		"at least 9.4 ± 2.2 J", "The spring fits this barrel. It gives 11.78 ± 0.22 of 11.80 possible turns.", "+12.31 ± 0.41 s/day", "dial now 16.40 ± 0.59 s fast.",
		"63.500 ± 0.020 mm", "0.5259 ± 0.0094", "Before you touch the spring",
		`<del><code>15.80mm</code></del>`, "undone: jaws closed", "<del>oiled</del>, taken back: of another", "<del>checked: dial 61.00 ± 0.59 s fast</del>, taken back: misread", "<del>air read</del>, taken back", "<del>session: time</del>, taken back", "the wrong clock", "doubtful: 9.90 mm from its fellows",
		`<code>5/8"</code>`, "9 Mar 2026 08:30:20", "adjusted −0.05 turns", "door left open, a cold draught",
		"Where the uncertainty comes from", "93 %", "a micrometer", "arbor a third of the bore", "common practice, no source", "drawer 3",
		"   = π(63.50² − 15.875²)/(8 × 0.5588)",
	}
	for _, s := range [][]string{f.Spring.Reasons, f.Spring.Cautions, f.Spring.Next, f.Rate.Reasons, f.Rate.Warnings, f.Rate.Next, f.Going.Reasons, f.Going.Next} {
		want = append(want, s...)
	}
	for _, w := range want {
		if !strings.Contains(shown, w) {
			t.Errorf("%q isn't on the sheet", w)
		}
	}
	for _, kind := range []string{"barrel", "turns", "beat", "wheels", "stability", "going"} {
		if n := strings.Count(page, `id="figure-`+kind+`-title"`); n != 1 {
			t.Errorf("figure %s stands %d times on the sheet, want once", kind, n)
		}
	}
}

// TestSheetIsWhole reads the page strictly: every element is closed, ids are
// unique, labels point at something, tables have headings.
func TestSheetIsWhole(t *testing.T) {
	both := sheetExample()
	both.Findings.Others = []spring.Result{*springExample()}
	for name, in := range map[string]SheetInput{"full": sheetExample(), "two barrels": both, "nothing": {}} {
		page := mustSheet(t, in)
		ids := map[string]int{}
		var labels []string
		for _, e := range elements(t, page) {
			for _, a := range e.Attr {
				switch a.Name.Local {
				case "id":
					ids[a.Value]++
				case "aria-labelledby":
					labels = append(labels, strings.Fields(a.Value)...)
				}
			}
			if e.Name.Local == "th" && !strings.Contains(page, "scope=") {
				t.Errorf("%s: a heading without scope", name)
			}
		}
		for id, n := range ids {
			if n > 1 {
				t.Errorf("%s: id %s stands %d times", name, id, n)
			}
		}
		for _, l := range labels {
			if ids[l] == 0 {
				t.Errorf("%s: nothing has the id %s", name, l)
			}
		}
		if !strings.Contains(page, `<html lang="en">`) || strings.Count(page, "<h1>") != 1 {
			t.Errorf("%s: no language, or not one first heading", name)
		}
	}
}

// elements walks the page as XML, which the sheet is written to be as well.
func elements(t *testing.T, page string) []xml.StartElement {
	t.Helper()
	dec := xml.NewDecoder(strings.NewReader(page))
	dec.Strict = true
	var all []xml.StartElement
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			line, col := dec.InputPos()
			t.Fatalf("line %d, column %d: %v", line, col, err)
		}
		if e, ok := token.(xml.StartElement); ok {
			all = append(all, e.Copy())
		}
	}
}

func TestSheetNeedsNothingBeside(t *testing.T) {
	page := mustSheet(t, sheetExample())
	page = strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, "")
	for _, re := range []string{`https?:`, `<script`, `<link`, `@import`, `url\(`, `\bsrc=`, `<iframe`, ` on[a-z]+=`} {
		if m := regexp.MustCompile(re).FindString(page); m != "" {
			t.Errorf("the sheet holds %q", m)
		}
	}
}

func TestSheetEscapes(t *testing.T) {
	in := sheetExample()
	f := &in.Findings
	bad := `<script>alert("x")</script>`
	f.Record.Clock.Name, f.Record.Clock.Train = bad, bad
	f.Record.Readings[1].Text, f.Record.Readings[1].Part, f.Record.Readings[1].Why = bad, bad, bad
	f.Record.Events = append(f.Record.Events, sessions.Event{At: f.Record.Events[0].At, Kind: sessions.EventRemark, Text: bad})
	f.Spring.Reasons = []string{bad}
	f.Spring.Working = []string{"</pre>" + bad}
	f.Rate.Wheels[0].Name = bad
	in.Version = bad
	page := mustSheet(t, in)
	if strings.Contains(page, "<script") {
		t.Error("a script got in")
	}
	if !strings.Contains(page, `<h1>&lt;script&gt;alert(&#34;x&#34;)&lt;/script&gt;</h1>`) {
		t.Error("the clock's name isn't there as it was given")
	}
	elements(t, page)
}

func TestSheetSameTwice(t *testing.T) {
	if a, b := mustSheet(t, sheetExample()), mustSheet(t, sheetExample()); a != b {
		t.Error("the same findings made two different sheets")
	}
}

func TestSheetOfNothing(t *testing.T) {
	page := mustSheet(t, SheetInput{Made: time.Date(2026, 1, 2, 3, 4, 0, 0, time.UTC)})
	for _, w := range []string{"Nothing has been measured of this clock yet.", "Clock without a name", "Made 2 January 2026, 03:04 UTC"} {
		if !strings.Contains(page, w) {
			t.Errorf("%q isn't on the sheet", w)
		}
	}
	if strings.Contains(page, "Before you touch") {
		t.Error("cautions about a spring that nobody measured")
	}
}

func TestSheetTellsWriteErrors(t *testing.T) {
	want := errors.New("disk full")
	if err := Sheet(brokenWriter{want}, sheetExample()); !errors.Is(err, want) {
		t.Errorf("error %v, want %v", err, want)
	}
}

type brokenWriter struct{ err error }

func (w brokenWriter) Write([]byte) (int, error) { return 0, w.err }

// TestSheetOfTwoBarrels: headings and tasks name the part, and what holds for both stands once.
func TestSheetOfTwoBarrels(t *testing.T) {
	in := sheetExample()
	one := *in.Findings.Spring
	one.Part = "going barrel"
	two := one
	two.Part, two.Next = "striking barrel", []string{"Measure the arbor again."}
	two.Cautions = append(slices.Clone(one.Cautions), "This one is strong.")
	in.Findings.Spring, in.Findings.Others = &one, []spring.Result{two}
	page := mustSheet(t, in)
	for what, n := range map[string]int{
		"Mainspring, going barrel</h2>": 1, "Mainspring, striking barrel</h2>": 1, "<li>striking barrel: Measure the arbor again.</li>": 1,
		"<li>striking barrel: This one is strong.</li>": 1, "<li>" + html.EscapeString(one.Cautions[0]): 1,
		`id="figure-turns-1-title"`: 1, `id="figure-turns-2-title"`: 1,
	} {
		if got := strings.Count(page, what); got != n {
			t.Errorf("%q stands %d times on the sheet, want %d", what, got, n)
		}
	}
}

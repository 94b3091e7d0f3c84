package configs

import (
	"path/filepath"
	"strings"
	"testing"
)

// Each bad file, with its whole message; FILE stands for its path.
func TestBadFiles(t *testing.T) {
	const own = "profiles:\n  - name: blue-box\n    format: text-length\n    "
	const plan = "plans:\n  - name: mine\n    title: mine\n    part: barrel\n    steps:\n      - dimension: bore\n        ask: Measure.\n        count: 2\n        kind: inside\n        "
	const mm = "min_mm: 1, max_mm: 99"
	reads := func(finding string, steps ...string) string {
		text := "plans:\n  - name: mine\n    title: mine\n    part: barrel\n    " + finding + "\n    steps:\n"
		for _, s := range steps {
			text += "      - {ask: Measure., count: 1, " + s + "}\n"
		}
		return text
	}
	tests := []struct{ name, text, want string }{
		{"unknown key", "unit: mm\n", "FILE:1: unit is not known: did you mean units?"},
		{"wrong case", "Units: mm\n", "FILE:1: Units is not known: did you mean units?"},
		{"far from any", "colour_of_the_bench: green\n", "FILE:1: colour_of_the_bench is not known: the nearest known is log.level"},
		{"unknown inner key", "spring:\n  fil_low: 0.4\n", "FILE:2: spring.fil_low is not known: did you mean spring.fill_low?"},
		{"inner key outside", "fill_low: 0.4\n", "FILE:1: fill_low is not known: did you mean spring.fill_low?"},
		{"dotted key", "spring.fill_low: 0.4\n", "FILE:1: spring.fill_low can't stand in one line: write spring: and below it, indented, fill_low:"},
		{"given twice", "units: mm\nunits: in\n", "FILE:2: units is given twice: keep one"},
		{"group given twice", "log:\n  level: info\nlog:\n  level: warn\n", "FILE:3: log is given twice: keep one"},
		{"text for a number", "spring:\n  fill_low: half\n", `FILE:2: spring.fill_low: "half" is no number: write it like 0.5`},
		{"decimal comma", "spring:\n  fill_low: 0,4\n", `FILE:2: spring.fill_low: "0,4" is no number: write it like 0.5`},
		{"quoted number", "spring:\n  fill_low: \"0.4\"\n", `FILE:2: spring.fill_low: "0.4" is no number: write it like 0.5`},
		{"true for a number", "spring:\n  fill_low: true\n", `FILE:2: spring.fill_low: "true" is no number: write it like 0.5`},
		{"not a number", "spring:\n  fill_low: .nan\n", `FILE:2: spring.fill_low: ".nan" is no number: write it like 0.5`},
		{"infinite", "spring:\n  fill_low: .inf\n", `FILE:2: spring.fill_low: ".inf" is no number: write it like 0.5`},
		{"number for text", "zone: 12\n", "FILE:1: zone: 12 is no text: put it in quotes"},
		{"true for text", "units: true\n", "FILE:1: units: true is no text: put it in quotes"},
		{"text for true", "keep_raw: yes please\n", `FILE:1: keep_raw: "yes please" must be true or false`},
		{"list for text", "units: [mm]\n", "FILE:1: units must be one value, not several"},
		{"no value", "units:\n", "FILE:1: units has no value: give it one, or leave the line out"},
		{"group without keys", "spring:\n", "FILE:1: spring has no value: give it one, or leave the line out"},
		{"value for a group", "spring: 3\n", "FILE:1: spring must hold keys and their values, one a line"},
		{"out of range", "spring:\n  fill_low: 0.7\n", "FILE:2: spring.fill_low 0.7: must be 0.05 to 0.5"},
		{"unit of the range", "typed:\n  limit_mm: 0\n", "FILE:2: typed.limit_mm 0: must be 0.0001 to 10 mm"},
		{"unknown word", "units: cubits\n", `FILE:1: units "cubits" is not known: use mm, in or both`},
		{"unknown level", "log:\n  level: loud\n", `FILE:2: log.level "loud" is not known: use trace, debug, info, warn, error or disabled`},
		{"unknown zone", "zone: Europe/Pairs\n", `FILE:1: zone "Europe/Pairs" is not known: write it like Europe/Paris`},
		{"no whole number", "copies: 2.5\n", "FILE:1: copies 2.5: must be a whole number"},
		{"latitude", "pendulum:\n  latitude_deg: 91\n", "FILE:2: pendulum.latitude_deg 91: must be -90 to 90 °"},
		{"alias", "units: &u mm\nzone: *u\n", "FILE:1: units refers to another value: write it out"},
		{"merged keys", "<<: {units: mm}\n", "FILE:1: << is not known: the nearest known is book"},
		{"second document", "units: mm\n---\nunits: in\n", "FILE:2: a second document begins here: only one is read"},
		{"no mapping", "- units\n", "FILE:1: settings are lines of a key, a colon and a value"},
		{"no YAML", "units: [mm\n", "FILE:1: this is not YAML: did not find expected ',' or ']'"},
		{"tab", "spring:\n\tfill_low: 0.4\n", "FILE:2: this is not YAML: found character that cannot start any token"},
		{"not UTF-8", "units: \xff\n", "FILE: this is not YAML: invalid leading UTF-8 octet"},

		{"profiles no list", "profiles: text-length\n", "FILE:1: profiles must be a list: begin each of its items with a dash"},
		{"profile no mapping", "profiles:\n  - caliper\n", "FILE:2: an item of a list must hold keys and their values, one a line"},
		{"profile without name", "profiles:\n  - format: text-length\n", "FILE:2: a profile must have a name: add name: to it"},
		{"profile without format", "profiles:\n  - name: blue-box\n", "FILE:2: profile blue-box names no wire format: add format: to it, such as text-length"},
		{"profile of an unknown format", "profiles:\n  - name: blue-box\n    format: text-lenght\n    kind: caliper\n", `FILE:2: profile blue-box: format "text-lenght" is not known: did you mean text-length?`},
		{"profile with capitals", "profiles:\n  - name: BlueBox\n    format: text-length\n", "FILE:2: profile BlueBox: a name is small letters, digits and hyphens"},
		{"profile with a dot", "profiles:\n  - name: box.v2\n    format: text-length\n", "FILE:2: profile box.v2: a name is small letters, digits and hyphens"},
		{"profile twice", own + "baud: 1200\n  - name: blue-box\n    format: text-length\n", "FILE:5: profile blue-box is given twice: keep one"},
		{"profile key", own + "bauds: 1200\n", "FILE:4: bauds is not known: did you mean baud?"},
		{"decimal baud", own + "baud: 1200.5\n", `FILE:4: baud: "1200.5" is no whole number`},
		{"baud beyond 32 bits", own + "baud: 99999999999\n", `FILE:4: baud: "99999999999" is no whole number`},
		{"slow baud", own + "baud: 110\n", "FILE:2: profile blue-box: baud 110: must be 300 to 921600"},
		{"bits", own + "bits: 9\n", "FILE:2: profile blue-box: bits 9: must be 7 or 8"},
		{"parity", own + "parity: both\n", `FILE:2: profile blue-box: parity "both" is not known: use none, odd, even, mark or space`},
		{"stop", own + "stop: 3\n", "FILE:2: profile blue-box: stop 3: must be 1, 1.5 or 2"},
		{"dtr", own + "dtr: up\n", `FILE:4: dtr: "up" must be true or false`},
		{"kind", own + "kind: ruler\n", `FILE:2: profile blue-box: kind "ruler" is not known: use caliper, micrometer, indicator, beat, air, reference or force`},
		{"unit", own + "unit: cubit\n", `FILE:2: profile blue-box: unit "cubit" is not known: use mm, cm, m, um, in or thou`},
		{"unit of a force", "profiles:\n  - name: text-force\n    unit: lb\n", `FILE:2: profile text-force: unit "lb" is not known: use N, kgf, gf, ozf, Nm or Nmm`},
		{"unit of a beat", "profiles:\n  - name: count-lines\n    unit: mm\n", `FILE:2: profile count-lines: unit "mm": a beat instrument has none: leave it out`},
		{"request without a pause", own + "request: \"?\"\n", "FILE:2: profile blue-box: request_every_s 0: must be 0.05 to 3600"},
		{"long request", own + "request: \"" + strings.Repeat("?", 65) + "\"\n", "FILE:2: profile blue-box: request of 65 bytes: must be at most 64"},
		{"negative limit", own + "limit_outside_mm: -0.02\n", "FILE:2: profile blue-box: limit_outside_mm -0.02: must be 0 (not known) to 10"},
		{"count without width", "profiles:\n  - name: byte-beats\n    count_rate: 1000\n", "FILE:2: profile byte-beats: count_rate 1000 and count_bits 0: give both or neither"},
		{"count width", "profiles:\n  - name: count-lines\n    count_bits: 31\n", "FILE:2: profile count-lines: count_bits 31: must be 16, 24, 32 or 64"},
		{"negative count", "profiles:\n  - name: count-lines\n    count_rate: -1\n", "FILE:2: profile count-lines: count_rate -1: must be 0 (no count) to 1e+10 counts a second"},

		{"plans no list", "plans: {}\n", "FILE:1: plans must be a list: begin each of its items with a dash"},
		{"plan without name", "plans:\n  - title: x\n", `FILE:2: plan "": a name is small letters, digits and hyphens`},
		{"plan without title", "plans:\n  - name: mine\n", "FILE:2: plan mine has no title: say what it measures"},
		{"plan without part", "plans:\n  - name: mine\n    title: mine\n", "FILE:2: plan mine names no part: say which it measures, as in part: barrel"},
		{"plan without steps", "plans:\n  - name: mine\n    title: mine\n    part: barrel\n", "FILE:2: plan mine has no steps: add a list of them under steps"},
		{"steps no list", "plans:\n  - name: mine\n    steps: 3\n", "FILE:3: steps must be a list: begin each of its lines with a dash"},
		{"step key", plan + "min: 3\n", "FILE:10: steps.min is not known: did you mean steps.min_mm?"},
		{"range", plan + "min_mm: 5\n        max_mm: 4\n", "FILE:2: plan mine, step 1: min_mm 5 to max_mm 4: must be above 0.05, the second the larger"},
		{"range within the undo", plan + "min_mm: 0.04\n        max_mm: 4\n", "FILE:2: plan mine, step 1: min_mm 0.04 to max_mm 4: must be above 0.05, the second the larger"},
		{"vary", plan + "min_mm: 1\n        max_mm: 4\n        vary_mm: 5\n", "FILE:2: plan mine, step 1: vary_mm 5: must be 0 to max_mm"},
		{"step twice", plan + "min_mm: 1\n        max_mm: 4\n" + "      - {dimension: bore, ask: Again., count: 1, kind: inside, min_mm: 1, max_mm: 4}\n", "FILE:2: plan mine, step 2: dimension bore is asked for twice: raise its count"},
		{"step named zero", "plans:\n  - {name: mine, title: mine, part: barrel, steps: [{dimension: zero}]}\n", "FILE:2: plan mine, step 1: dimension zero is kept for the closed jaws: choose another name"},
		{"step named badly", "plans:\n  - {name: mine, title: mine, part: barrel, steps: [{dimension: The bore}]}\n", `FILE:2: plan mine, step 1: dimension "The bore": a name is small letters, digits and hyphens`},
		{"step without ask", "plans:\n  - {name: mine, title: mine, part: barrel, steps: [{dimension: bore}]}\n", "FILE:2: plan mine, step 1: dimension bore has no ask: say what to do"},
		{"step without count", "plans:\n  - {name: mine, title: mine, part: barrel, steps: [{dimension: bore, ask: Measure.}]}\n", "FILE:2: plan mine, step 1: count 0: must be 1 to 50 readings"},
		{"step of no kind", "plans:\n  - {name: mine, title: mine, part: barrel, steps: [{dimension: bore, ask: Measure., count: 1}]}\n", `FILE:2: plan mine, step 1: kind "" is not known: use outside, inside, depth, typed or count`},
		{"count's range", "plans:\n  - {name: mine, title: mine, part: barrel, steps: [{dimension: teeth, ask: Count., count: 1, kind: count}]}\n", "FILE:2: plan mine, step 1: min_count 0 to max_count 0: must be above 0, the second the larger"},
		{"unknown finding", reads("finding: sprong", "dimension: bore, kind: inside, "+mm), `FILE:2: plan mine: finding "sprong" is not known: use spring, pivot, wheel or pendulum`},
		{"finding that reads no step", reads("finding: pivot", "dimension: bore, kind: inside, "+mm), "FILE:2: plan mine: finding pivot reads none of its steps: say which is which, as in is: shoulder"},
		{"is without a finding", reads("cautions: []", "dimension: wall, is: bore, kind: inside, "+mm), "FILE:2: plan mine, step 1: is bore: there is no finding to read it: add finding: to the plan"},
		{"is unknown", reads("finding: wheel", "dimension: wall, is: whel, kind: inside, "+mm), "FILE:2: plan mine, step 1: is whel: finding wheel reads no such dimension: use wheel, teeth, pinion, leaves or centres"},
		{"is of another finding", reads("finding: pendulum", "dimension: wall, is: bore, kind: inside, "+mm), "FILE:2: plan mine, step 1: is bore: finding pendulum reads no such dimension: use length, bob or ten-threads"},
		{"is no length", reads("finding: spring", "dimension: pull, is: torque, kind: typed, "+mm), "FILE:2: plan mine, step 1: is torque: finding spring reads no such dimension: use bore, arbor, strip, height, depth, length, inner, coils, free, free-coils, set-up, stop-turns, fusee-turns or chain-turns"},
		{"two that are the same", reads("finding: spring", "dimension: wall, is: bore, kind: inside, "+mm, "dimension: inside, is: bore, kind: inside, "+mm), "FILE:2: plan mine, step 2: is bore: so is step 1: finding spring takes one of each"},
		{"one that is what another is called", reads("finding: spring", "dimension: wall, is: bore, kind: inside, "+mm, "dimension: bore, kind: inside, "+mm), "FILE:2: plan mine, step 2: is bore: so is step 1: finding spring takes one of each"},
		{"count that is a length", reads("finding: spring", "dimension: bore, kind: count, min_count: 1, max_count: 9"), "FILE:2: plan mine, step 1: is bore: finding spring reads a length: kind can't be count"},
		{"length that is a count", reads("finding: spring", "dimension: turns, is: coils, kind: outside, "+mm), "FILE:2: plan mine, step 1: is coils: finding spring counts it: write kind: count"},
		{"plan twice", plan + "min_mm: 1\n        max_mm: 4\n" + strings.TrimPrefix(plan, "plans:\n") + "min_mm: 1\n        max_mm: 4\n", "FILE:12: plan mine is given twice: keep one"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			l, err := load(t, test.text)
			if err == nil {
				t.Fatalf("taken as %+v", l.Settings)
			}
			file, _, _ := strings.Cut(err.Error(), "bench.yaml")
			refused(t, err, strings.Replace(test.want, "FILE", filepath.Join(file, "bench.yaml"), 1))
		})
	}
}

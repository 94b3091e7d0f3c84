package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/stability"
	"evenbeat/analysis/weight"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/cmd/evenbeat/internal/terminal"
	"evenbeat/configs"
	"evenbeat/devices/quantity"
	"evenbeat/sessions/book"
)

// answers holds for each command what its answer in JSON is made from, or each kind of
// line that it writes.
func answers() map[string][]any {
	return map[string][]any{
		"air":            {lineOf{terminal.AirLine{}}, lineOf{terminal.FaultLine{}}, lineOf{terminal.AirSummary{}}},
		"book check":     {book.Report{}},
		"book merge":     {book.Merged{}},
		"book salvage":   {book.Salvaged{}},
		"check":          {keptCheck{}},
		"clock add":      {analysis.ClockFindings{}},
		"clock edit":     {analysis.ClockFindings{}},
		"clock list":     {clockList{}},
		"clock show":     {analysis.ClockFindings{}},
		"config show":    {settingList{}},
		"demo":           {demoFindings{}},
		"doctor":         {symptomList{}},
		"export":         {exportedFile{}},
		"fit":            {fitList{}},
		"going":          {going.Result{}, goingOfAll{}},
		"inspect":        {particularList{}},
		"job":            {particularList{}},
		"measure":        {lineOf{terminal.ReadingLine{}}, lineOf{terminal.UndoneLine{}}, lineOf{terminal.FaultLine{}}},
		"move":           {movedSession{}},
		"note":           {keptEvent{}},
		"ports":          {portList{}},
		"ports profiles": {profileList{}},
		"ports watch":    {lineOf{terminal.SearchLine{}}, lineOf{terminal.WatchedLine{}}},
		"rate":           {beat.Result{}, rateOfAll{}},
		"record":         {recorded{}},
		"replay":         {playedAt{}},
		"spring":         {spring.Result{}},
		"stability":      {stability.Result{}},
		"time":           {beat.Result{}},
		"undo":           {takenBack{}},
		"version":        {identity{}},
		"weight":         {weight.Result{}},
	}
}

// lineOf is a kind of line. Only the first that is written says who made it.
type lineOf struct{ line any }

// recorded is recordList with its names.
type recorded struct {
	Readings    []recordLine `json:"readings,omitzero"`    // every one, those taken back too
	Checks      []recordLine `json:"checks,omitzero"`      // every one, those taken back too
	Notes       []recordLine `json:"notes,omitzero"`       // every one, those taken back too
	Air         []recordLine `json:"air,omitzero"`         // every sample, those taken back too
	Sessions    []recordLine `json:"sessions,omitzero"`    // every one, those taken back too
	Particulars []recordLine `json:"particulars,omitzero"` // every one, those taken back too
}

// exportedFile is a file that export writes.
type exportedFile struct {
	Record      wholeRecord          `json:"record,omitzero"`      // with --what all: the whole record, from which import makes the same clock again
	Readings    []exportedReading    `json:"readings,omitzero"`    // every reading
	Beats       []exportedBeat       `json:"beats,omitzero"`       // of the session that was asked for
	Checks      []exportedCheck      `json:"checks,omitzero"`      // comparisons of the dial that stand
	Air         []exportedAir        `json:"air,omitzero"`         // samples that stand
	Events      []exportedEvent      `json:"events,omitzero"`      // notes that stand
	Particulars []exportedParticular `json:"particulars,omitzero"` // what was told or seen of clock, job and parts
}

// wholeRecord is all that the book holds of a clock.
type wholeRecord struct {
	Layout int              `json:"layout"` // of the book that the rows are from
	Rows   []map[string]any `json:"rows"`   // each with its table, and with its columns as that layout has them
	Count  int              `json:"count"`  // how many rows there are
	SHA256 string           `json:"sha256"` // of the rows as they were written, each with its line feed
}

// exportedReading is a value as read, before the zero is taken off.
type exportedReading struct {
	ID         int64     `json:"reading"`             // its number in the book
	Session    int64     `json:"session,omitzero"`    // number of the session that it was read in
	At         time.Time `json:"time"`                // when it was read, in the clock's zone
	Clock      string    `json:"clock"`               // name of the clock
	Part       string    `json:"part,omitzero"`       // that was measured
	Dimension  string    `json:"dimension"`           // of the part, or zero
	Kind       string    `json:"kind,omitzero"`       // how it was taken: outside, inside, depth, typed or count; absent where nobody recorded it
	Value      float64   `json:"value_m"`             // a count stands as it is
	U          float64   `json:"u_m"`                 // its standard uncertainty
	Text       string    `json:"text,omitzero"`       // as received or typed
	Instrument string    `json:"instrument,omitzero"` // that sent it
	State      string    `json:"state"`               // kept, doubtful or undone
	Limit      float64   `json:"limit_m,omitzero"`    // ± limit of error of the instrument
	Step       float64   `json:"step_m,omitzero"`     // of the instrument's display
	UForm      string    `json:"u_form,omitzero"`     // form of the uncertainty that the text states
}

// exportedBeat is a beat, or an event that is none, on the corrected time base.
type exportedBeat struct {
	Index int64   `json:"index,omitzero"` // number of the beat; absent of an event that is none
	At    float64 `json:"time_s"`         // since the first event of the session
	State string  `json:"state"`          // beat or spurious
}

// exportedCheck is a comparison of the dial.
type exportedCheck struct {
	At    time.Time `json:"time"`    // when the dial was read, in the clock's zone
	Error float64   `json:"error_s"` // of the dial, plus is fast
	U     float64   `json:"u_s"`     // its standard uncertainty
}

// exportedAir is a sample of the air. What was not measured is absent.
type exportedAir struct {
	At          time.Time `json:"time"`                   // when it was taken, in the clock's zone
	Temperature float64   `json:"temperature_c,omitzero"` // of the air
	Pressure    float64   `json:"pressure_hpa,omitzero"`  // of the air
	Humidity    float64   `json:"humidity_pct,omitzero"`  // relative humidity
}

// exportedEvent is a note.
type exportedEvent struct {
	At     time.Time `json:"time"`              // of which it is, in the clock's zone
	Kind   string    `json:"kind"`              // wound, adjusted, moved and so on
	Turns  float64   `json:"turns,omitzero"`    // of the rating nut, plus raises the bob
	Text   string    `json:"text,omitzero"`     // as typed
	Before float64   `json:"before_s,omitzero"` // error of the dial before the hands were set
	After  float64   `json:"after_s,omitzero"`  // error of the dial after the hands were set
}

// exportedParticular is what was told or seen of a clock, its job or a part.
type exportedParticular struct {
	At    time.Time `json:"time"`           // when it was recorded, in the clock's zone
	Part  string    `json:"part,omitzero"`  // that it is of; absent for the clock and the job
	Name  string    `json:"name"`           // of what is told
	Value string    `json:"value,omitzero"` // what is told of it
}

// valueForm is how a quantity.Value is written.
type valueForm struct {
	V      float64 `json:"value"`            // the estimate, in SI units or in the unit that the name says
	U      float64 `json:"u"`                // its standard uncertainty, in the same unit
	Low95  float64 `json:"low95,omitempty"`  // lower end of the 95 % interval; without it value − 1.96 u
	High95 float64 `json:"high95,omitempty"` // upper end of the 95 % interval; without it value + 1.96 u
}

// estimateForm is how a spring.Estimate is written.
type estimateForm struct {
	valueForm
	Bound spring.Bound `json:"bound,omitempty"` // on which side the truth lies; without it, in the interval
}

// written holds how a type is written that writes itself.
var written = map[reflect.Type]reflect.Type{
	reflect.TypeFor[quantity.Value]():  reflect.TypeFor[valueForm](),
	reflect.TypeFor[spring.Estimate](): reflect.TypeFor[estimateForm](),
	reflect.TypeFor[beat.Rate]():       reflect.TypeFor[quantity.Interval](),
	reflect.TypeFor[configs.Source]():  reflect.TypeFor[string](),
}

// schema is a JSON Schema of draft 2020-12, as far as it is needed here.
type schema struct {
	Draft       string             `json:"$schema,omitempty"`
	ID          string             `json:"$id,omitempty"`
	Title       string             `json:"title,omitempty"`
	Description string             `json:"description,omitempty"`
	Ref         string             `json:"$ref,omitempty"`
	Type        any                `json:"type,omitempty"`
	Format      string             `json:"format,omitempty"`
	Const       any                `json:"const,omitempty"`
	Enum        []string           `json:"enum,omitempty"`
	Items       *schema            `json:"items,omitempty"`
	AnyOf       []*schema          `json:"anyOf,omitempty"`
	Properties  map[string]*schema `json:"properties,omitempty"`
	Required    []string           `json:"required,omitempty"`
	More        any                `json:"additionalProperties,omitempty"`
	Defs        map[string]*schema `json:"$defs,omitempty"`
}

// schemaMaker makes the schemas from the types and from the comments in their source.
type schemaMaker struct {
	source *goSource
	defs   map[string]*schema // of the schema that is being made
	faults []string
}

// of makes the schema of a command's answers.
func (m *schemaMaker) of(command string, all []any) *schema {
	m.defs = map[string]*schema{}
	var forms []*schema
	for _, v := range all {
		line, isLine := v.(lineOf)
		if isLine {
			v = line.line
		}
		t := reflect.TypeOf(v)
		form, made := m.object(t), m.object(reflect.TypeFor[render.Made]())
		for name, p := range made.Properties {
			if form.Properties[name] != nil && t != reflect.TypeFor[identity]() {
				m.faults = append(m.faults, fmt.Sprintf("%v: %q is what every answer carries", t, name))
			}
			form.Properties[name] = p
		}
		form.Properties["schema"].Const = render.Schema
		if !isLine {
			form.Required = append(form.Required, made.Required...)
		}
		forms = append(forms, form)
	}
	s := forms[0]
	if len(forms) > 1 {
		s = &schema{Description: "One of these. Of many lines only the first says who made them.", AnyOf: forms}
	}
	s.Draft, s.ID = "https://json-schema.org/draft/2020-12/schema", fmt.Sprintf("urn:evenbeat:%d:%s", render.Schema, strings.ReplaceAll(command, " ", "-"))
	s.Title, s.Defs = "evenbeat "+command+" --json", m.defs
	if command == "export" {
		s.Title = "evenbeat export --out FILE.json"
	}
	return s
}

// object makes the schema of a struct.
func (m *schemaMaker) object(t reflect.Type) *schema {
	s := &schema{Type: "object", Description: m.source.ofType(t), Properties: map[string]*schema{}, More: false}
	for f := range fields(t) {
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		p := m.value(f.Type)
		text := m.source.ofField(t, f)
		if text == "" {
			m.faults = append(m.faults, fmt.Sprintf("%v.%s (%s) has no comment that says what it is", t, f.Name, name))
		}
		p.Description = strings.TrimSpace(text + " " + unitOf(name))
		s.Properties[name] = p
		if !strings.Contains(options, "omit") && !mayBeAbsent(t, f) {
			s.Required = append(s.Required, name)
		}
	}
	return s
}

// fields yields the fields of a struct that JSON has, those of embedded ones too.
func fields(t reflect.Type) func(yield func(reflect.StructField) bool) {
	return func(yield func(reflect.StructField) bool) {
		for _, f := range reflect.VisibleFields(t) {
			if name := f.Tag.Get("json"); name != "" && name != "-" && !yield(f) {
				return
			}
		}
	}
}

// mayBeAbsent tells whether a field is of an embedded struct that may be absent.
func mayBeAbsent(t reflect.Type, f reflect.StructField) bool {
	return len(f.Index) > 1 && t.Field(f.Index[0]).Type.Kind() == reflect.Pointer
}

// value makes the schema of a type wherever it stands.
func (m *schemaMaker) value(t reflect.Type) *schema {
	as := t
	if w, ok := written[t]; ok {
		as = w
	}
	switch {
	case as == reflect.TypeFor[time.Time]():
		return &schema{Type: "string", Format: "date-time"}
	case as.Kind() == reflect.Struct:
		name := t.String()
		if m.defs[name] == nil {
			m.defs[name] = &schema{} // so that a type may hold itself
			*m.defs[name] = *m.object(as)
			m.defs[name].Description = m.source.ofType(t)
		}
		return &schema{Ref: "#/$defs/" + name}
	}
	switch as.Kind() {
	case reflect.Pointer:
		return m.value(as.Elem())
	case reflect.Map:
		return &schema{Type: "object"}
	case reflect.Slice:
		return &schema{Type: "array", Items: m.value(as.Elem())}
	case reflect.Bool:
		return &schema{Type: "boolean"}
	case reflect.String:
		return &schema{Type: "string", Enum: m.source.valuesOf(as)}
	case reflect.Float64:
		return &schema{Type: "number"}
	case reflect.Int, reflect.Int64, reflect.Uint64:
		return &schema{Type: "integer"}
	case reflect.Interface:
		return &schema{Type: []string{"string", "boolean", "number", "array"}}
	}
	m.faults = append(m.faults, fmt.Sprintf("%v: no schema is made of such a type", t))
	return &schema{}
}

// TestSchemasAreNew holds the schemas that come with the program against the types that
// the answers are made from.
func TestSchemasAreNew(t *testing.T) {
	m := schemaMaker{source: newGoSource(t)}
	made := map[string]bool{}
	for command, all := range answers() {
		text, err := json.MarshalIndent(m.of(command, all), "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.FromSlash(schemaFile(command))
		made[filepath.Base(name)] = true
		compare(t, name, append(text, '\n'))
	}
	slices.Sort(m.faults)
	for _, fault := range slices.Compact(m.faults) {
		t.Error(fault)
	}
	there, err := filepath.Glob("schemas/*")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range there {
		if !made[filepath.Base(name)] {
			t.Errorf("%s is of no command", name)
		}
	}
}

// withoutAnswer are the commands that answer nothing in JSON: what they make is a file, a
// page or a change that they tell of in a line.
var withoutAnswer = []string{"bench", "book backup", "book restore", "capture", "clock use", "import", "plot", "schema", "sheet"}

// A new command has its answer described, or stands among those that have none.
func TestEachCommandIsDescribed(t *testing.T) {
	described := answers()
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		name := strings.TrimPrefix(c.CommandPath(), "evenbeat ")
		if _, ok := described[name]; !c.HasSubCommands() && ok == slices.Contains(withoutAnswer, name) {
			t.Errorf("%s: in answers %t, in withoutAnswer %t, want it in one of them", name, ok, ok)
		}
	}
	walk(newRoot(&app{}))
}

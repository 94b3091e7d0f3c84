// Package render writes findings as text, tables and JSON. It computes nothing: what
// it tells stands in the findings.
package render

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"evenbeat/devices/quantity"
)

// Width is the column at which sentences wrap: readable on a bench laptop and
// on paper, whatever the window's width.
const Width = 84

// Report writes findings for a person. The first failed write is kept and told by
// done, so that no line's error is lost and none needs its own check.
type Report struct {
	w   io.Writer
	err error
}

// New returns a report that writes to w.
func New(w io.Writer) *Report { return &Report{w: w} }

// Err returns the first error of a write.
func (r *Report) Err() error { return r.err }

func (r *Report) Printf(format string, args ...any) {
	if r.err == nil {
		_, r.err = fmt.Fprintf(r.w, format, args...)
	}
}

// Head writes a heading, underlined.
func (r *Report) Head(text string) {
	r.Printf("%s\n%s\n", text, strings.Repeat("─", utf8.RuneCountInString(text)))
}

// Say writes a paragraph, wrapped.
func (r *Report) Say(text string) {
	for _, line := range wrap(text, Width) {
		r.Printf("%s\n", line)
	}
}

// Row writes a name and what belongs to it.
func (r *Report) Row(name, value string) {
	if value != "" {
		r.Printf("  %-22s %s\n", name, value)
	}
}

// value writes a row for a measured value, if it is there.
func (r *Report) value(name string, v *quantity.Value, unit string) {
	if v != nil {
		r.Row(name, v.Full(unit))
	}
}

// length writes a row for a measured length, if it is there.
func (r *Report) length(name string, v *quantity.Value, u quantity.System) {
	if v != nil {
		r.Row(name, u.FullLength(*v))
	}
}

// List writes sentences under a heading, each behind a mark; nothing where there
// are none.
func (r *Report) List(title, mark string, sentences []string) {
	if len(sentences) == 0 {
		return
	}
	r.Printf("\n%s\n", title)
	r.Items("  ", mark, sentences)
}

// Items writes sentences, each behind a mark and wrapped.
func (r *Report) Items(indent, mark string, sentences []string) {
	for _, s := range sentences {
		for i, line := range wrap(s, Width-4) {
			lead := strings.Repeat(" ", utf8.RuneCountInString(mark))
			if i == 0 {
				lead = mark
			}
			r.Printf("%s%s %s\n", indent, lead, line)
		}
	}
}

// verbatim writes lines under a heading, each on its own: working on paper.
func (r *Report) verbatim(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	r.Printf("\n%s\n", title)
	for _, l := range lines {
		for i, part := range wrap(l, Width-6) {
			lead := "    "
			if i > 0 {
				lead = "      "
			}
			r.Printf("%s%s\n", lead, part)
		}
	}
}

// interval says once what ± means.
func (r *Report) interval() {
	r.Printf("\n± is the 95 %% interval.\n")
}

// wrap breaks text at blanks so that no line is longer than width characters,
// unless a single word is.
func wrap(text string, width int) []string {
	var lines []string
	var line strings.Builder
	n := 0
	for word := range strings.FieldsSeq(text) {
		w := utf8.RuneCountInString(word)
		if n > 0 && n+1+w > width {
			lines = append(lines, line.String())
			line.Reset()
			n = 0
		}
		if n > 0 {
			line.WriteByte(' ')
			n++
		}
		line.WriteString(word)
		n += w
	}
	return append(lines, line.String())
}

// JSON writes v as indented JSON, or on one line.
func JSON(w io.Writer, v any, indent bool) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	if indent {
		e.SetIndent("", "  ")
	}
	return e.Encode(v)
}

package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"evenbeat/devices/quantity"
)

// textWidth is the column at which sentences wrap: readable on a bench laptop and
// on paper, whatever the window's width.
const textWidth = 84

// report writes findings for a person. The first failed write is kept and told by
// done, so that no line's error is lost and none needs its own check.
type report struct {
	w   io.Writer
	err error
}

func (r *report) printf(format string, args ...any) {
	if r.err == nil {
		_, r.err = fmt.Fprintf(r.w, format, args...)
	}
}

// head writes a heading, underlined.
func (r *report) head(text string) {
	r.printf("%s\n%s\n", text, strings.Repeat("─", utf8.RuneCountInString(text)))
}

// say writes a paragraph, wrapped.
func (r *report) say(text string) {
	for _, line := range wrap(text, textWidth) {
		r.printf("%s\n", line)
	}
}

// row writes a name and what belongs to it.
func (r *report) row(name, value string) {
	if value != "" {
		r.printf("  %-22s %s\n", name, value)
	}
}

// value writes a row for a measured value, if it is there.
func (r *report) value(name string, v *quantity.Value, unit string) {
	if v != nil {
		r.row(name, v.Text(unit))
	}
}

// length writes a row for a measured length, if it is there.
func (r *report) length(name string, v *quantity.Value, u quantity.System) {
	if v != nil {
		r.row(name, u.Length(*v))
	}
}

// list writes sentences under a heading, each behind a mark; nothing where there
// are none.
func (r *report) list(title, mark string, sentences []string) {
	if len(sentences) == 0 {
		return
	}
	r.printf("\n%s\n", title)
	r.items("  ", mark, sentences)
}

// items writes sentences, each behind a mark and wrapped.
func (r *report) items(indent, mark string, sentences []string) {
	for _, s := range sentences {
		for i, line := range wrap(s, textWidth-4) {
			lead := strings.Repeat(" ", utf8.RuneCountInString(mark))
			if i == 0 {
				lead = mark
			}
			r.printf("%s%s %s\n", indent, lead, line)
		}
	}
}

// verbatim writes lines under a heading, each on its own: working on paper.
func (r *report) verbatim(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	r.printf("\n%s\n", title)
	for _, l := range lines {
		for i, part := range wrap(l, textWidth-6) {
			lead := "    "
			if i > 0 {
				lead = "      "
			}
			r.printf("%s%s\n", lead, part)
		}
	}
}

// interval says once what ± means.
func (r *report) interval() {
	r.printf("\n± is the 95 %% interval.\n")
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

// writeJSON writes v as indented JSON, or on one line.
func writeJSON(w io.Writer, v any, indent bool) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	if indent {
		e.SetIndent("", "  ")
	}
	return e.Encode(v)
}

// Package render writes findings as text, tables and JSON. It computes nothing: what
// it tells stands in the findings.
package render

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"evenbeat/devices/quantity"
)

// Width is the column at which text wraps: that of the plainest terminal, and readable
// on paper.
const Width = 80

// interval says once what ± means.
const interval = "± is the 95 % interval."

// Report writes findings for a person. The first failed write is kept and told by
// Err, so that no line's error is lost and none needs its own check.
type Report struct {
	w   io.Writer
	err error
}

// New returns a report that writes to w.
func New(w io.Writer) *Report { return &Report{w: w} }

// Err returns the first error of a write.
func (r *Report) Err() error { return r.err }

// Printf writes as fmt.Printf does.
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
func (r *Report) Say(text string) { r.lines(wrap(text, Width)) }

// Row writes a name and what belongs to it; nothing where that is empty.
func (r *Report) Row(name, value string) { r.lines(row(name, 22, value)) }

// value writes a row for a measured value with all its digits, if it is there.
func (r *Report) value(name string, v *quantity.Value, unit string) {
	if v != nil {
		r.Row(name, v.Full(unit))
	}
}

// length writes a row for a measured length with all its digits, if it is there.
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
		r.lines(item(indent+mark+" ", s))
	}
}

func (r *Report) lines(lines []string) {
	for _, l := range lines {
		r.Printf("%s\n", l)
	}
}

// row lays a value out behind its name, wrapped under itself.
func row(name string, width int, value string) []string {
	if value == "" {
		return nil
	}
	return item(fmt.Sprintf("  %-*s ", width, name), value)
}

// item lays a sentence out behind its mark, wrapped under itself.
func item(mark, sentence string) []string { return itemWithin(Width, mark, sentence) }

func itemWithin(width int, mark, sentence string) []string {
	n := utf8.RuneCountInString(mark)
	lines := wrap(sentence, width-n)
	for i := range lines {
		if i > 0 {
			mark = strings.Repeat(" ", n)
		}
		lines[i] = strings.TrimRight(mark+lines[i], " ")
	}
	return lines
}

// wrap breaks text at blanks so that no line is longer than width characters,
// unless a single word is. A value stays with its interval and its unit.
func wrap(text string, width int) []string {
	lines := []string{""}
	for _, word := range quantity.Words(text) {
		last := &lines[len(lines)-1]
		switch n := utf8.RuneCountInString(*last); {
		case n == 0:
			*last = word
		case n+1+utf8.RuneCountInString(word) > width:
			lines = append(lines, word)
		default:
			*last += " " + word
		}
	}
	return lines
}

// clip cuts text off at so many characters.
func clip(text string, width int) string {
	if r := []rune(text); len(r) > width {
		return string(r[:width-1]) + "…"
	}
	return text
}

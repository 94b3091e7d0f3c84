package render

import (
	"strings"
	"unicode/utf8"
)

// Topic writes a page of help, which is Markdown, for a terminal of so many columns: words
// wrap, and what stands between fences is set in and keeps its lines. Remarks are left out.
func (r *Report) Topic(text string, width int) {
	width = max(20, min(width, Width))
	var block []string // the lines of a paragraph or of an item in a list
	flush := func() {
		if len(block) > 0 {
			mark, words := marked(strings.Join(block, " "))
			r.lines(itemWithin(width, mark, words))
		}
		block = nil
	}
	fenced, headed := false, false // headed: the line before is a heading
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		marks, title, heading := strings.Cut(line, "# ")
		after := headed
		headed = false
		switch mark, _ := marked(line); {
		case strings.HasPrefix(line, "```"):
			flush()
			fenced = !fenced
		case fenced:
			r.Printf("%s\n", strings.TrimRight("  "+line, " "))
		case strings.HasPrefix(line, "<!--"):
		case heading && strings.Trim(marks, "#") == "":
			r.Printf("%s\n%s\n", title, strings.Repeat(rule(marks), utf8.RuneCountInString(title)))
			headed = true
		case line == "" && after:
		case line == "":
			flush()
			r.Printf("\n")
		default:
			if mark != "" {
				flush()
			}
			block = append(block, strings.TrimSpace(line))
		}
	}
	flush()
}

// rule is what a heading is underlined with.
func rule(marks string) string {
	if marks == "" { // of the page itself
		return "═"
	}
	return "─"
}

// marked cuts off the mark of an item in a list.
func marked(line string) (mark, words string) {
	number := strings.TrimLeft(line, "0123456789")
	if rest, ok := strings.CutPrefix(number, ". "); ok && number != line {
		return line[:len(line)-len(rest)], rest
	}
	if rest, ok := strings.CutPrefix(line, "- "); ok {
		return "- ", rest
	}
	return "", line
}

package render

import (
	"fmt"
	"io"
	"unicode/utf8"
)

// screenLines are those of the plainest terminal, less one for the prompt: with a
// longer answer, the verdict has scrolled away when the prompt returns.
const screenLines = 23

// answer is what a person needs of the findings, on one screen. The answer itself, the
// cautions, and what --full shows are always there, whole. The rest has room by its
// weight: the first reason and the first thing to do, figures, the table, and then
// further sentences.
type answer struct {
	title, says string
	figures     [][2]string // name and value, the weightiest first
	tableTitle  string
	heads       []string
	rows        [][]string // the weightiest first
	mark        string     // of the reasons: "-", or "!" for warnings
	reasons     []string
	next        []string
	before      string // what the cautions come before: "Before you touch a spring"
	cautions    []string
	last        string // says what --full shows
}

func (a answer) write(w io.Writer) error {
	top := append([]string{clip(a.title, Width)}, item("", a.says)...)
	last := item("", a.last)
	cautions := titled(a.before, sentences("  ! ", a.cautions, len(a.cautions)*screenLines))
	room := screenLines - len(top) - len(cautions) - len(last)
	mark := "  " + a.mark + " "
	reasons := sentences(mark, a.reasons[:min(1, len(a.reasons))], room)
	next := sentences("  → ", a.next[:min(1, len(a.next))], room-len(reasons))
	room -= len(reasons) + len(next)
	figures := a.figureLines(room - a.leastTable())
	room -= len(figures)
	table := titled(a.tableTitle, a.tableLines(room-2))
	room -= len(table)
	const blanks = 2 // those that no further sentence takes
	if len(a.reasons) > 1 {
		more := sentences(mark, a.reasons[1:], room-blanks)
		reasons, room = append(reasons, more...), room-len(more)
	}
	if len(a.next) > 1 {
		more := sentences("  → ", a.next[1:], room-blanks)
		next, room = append(next, more...), room-len(more)
	}
	for _, section := range []*[]string{&figures, &cautions, &table} {
		room -= setOff(section, room)
	}
	say := append(reasons, next...)
	setOff(&say, room)
	r := New(w)
	for _, section := range [][]string{top, figures, table, say, cautions, last} {
		for _, l := range section {
			r.Printf("%s\n", clip(l, Width))
		}
	}
	return r.Err()
}

// setOff puts a blank line before a section, if there is room, and returns the lines
// that it took.
func setOff(section *[]string, room int) int {
	if len(*section) == 0 || room < 1 {
		return 0
	}
	*section = append([]string{""}, *section...)
	return 1
}

// figureLines lays the figures out, their values in one column, as many as there is
// room for.
func (a answer) figureLines(room int) (lines []string) {
	wide := 0
	for _, f := range a.figures {
		wide = max(wide, utf8.RuneCountInString(f[0]))
	}
	for _, f := range a.figures {
		more := row(f[0], wide+1, f[1])
		if len(lines)+len(more) > room {
			break
		}
		lines = append(lines, more...)
	}
	return lines
}

// leastTable is how many lines the table has at least: title, headings, and a few
// rows with the word that there are more.
func (a answer) leastTable() int {
	if len(a.rows) == 0 {
		return 0
	}
	return 2 + min(len(a.rows), 4)
}

// tableLines lays out as many rows as there is room for, the headings not counted.
func (a answer) tableLines(room int) []string {
	if len(a.rows) == 0 {
		return nil
	}
	rows, left := a.rows, len(a.rows)-room
	if left > 0 {
		rows, left = rows[:max(0, room-1)], left+1
	}
	heads, rows := used(a.heads, rows)
	lines := table(2, heads, rows)
	if left > 0 {
		lines = append(lines, fmt.Sprintf("  … and %d more", left))
	}
	return lines
}

// titled puts a title over lines, if there are any and it isn't empty.
func titled(title string, lines []string) []string {
	if len(lines) == 0 || title == "" {
		return lines
	}
	return append([]string{title}, lines...)
}

// sentences lays out as many sentences as so many lines hold whole.
func sentences(mark string, all []string, room int) (lines []string) {
	for _, s := range all {
		more := item(mark, s)
		if len(lines)+len(more) > room {
			break
		}
		lines = append(lines, more...)
	}
	return lines
}

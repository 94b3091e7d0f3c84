package render

import (
	"strings"
	"text/tabwriter"
)

// table lays rows out under a line of headings, each column as wide as its widest
// cell and gap blanks, so that both systems of units still line up. The first line
// is the headings'.
func table(gap int, heads []string, rows [][]string) []string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, gap, ' ', 0)
	for _, cells := range append([][]string{heads}, rows...) {
		line := strings.Repeat(" ", gap)
		for _, c := range cells {
			// A name from a file may hold tabs, which would begin another column.
			line += strings.ToValidUTF8(strings.Join(strings.Fields(c), " "), "�") + "\t"
		}
		_, _ = w.Write([]byte(line + "\n")) // into memory: it can't fail
	}
	_ = w.Flush()
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return lines
}

// columns writes a table under a title, nothing where it has no rows. Below a row
// stands what notes has for it, wrapped; notes may be nil.
func (r *Report) columns(title string, heads []string, rows [][]string, notes []string) {
	if len(rows) == 0 {
		return
	}
	r.Printf("\n%s\n", title)
	for i, line := range table(2, heads, rows) {
		r.Printf("%s\n", line)
		if n := i - 1; n >= 0 && n < len(notes) && notes[n] != "" {
			r.Items("    ", "", []string{notes[n]})
		}
	}
}

// used leaves out the columns that no row has anything in.
func used(heads []string, rows [][]string) ([]string, [][]string) {
	keep := make([]bool, len(heads))
	for _, cells := range rows {
		for i, c := range cells {
			keep[i] = keep[i] || c != ""
		}
	}
	pick := func(cells []string) (out []string) {
		for i, c := range cells {
			if keep[i] {
				out = append(out, c)
			}
		}
		return out
	}
	var out [][]string
	for _, cells := range rows {
		out = append(out, pick(cells))
	}
	return pick(heads), out
}

package main

import (
	"bytes"
	"database/sql"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"text/tabwriter"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/configs"
)

var update = flag.Bool("update", false, "write the outputs and pictures of README and the topics anew, from what the program says now")

// redraw is what mends a file that a test holds to be stale.
func redraw(t *testing.T) string {
	return "go test ./cmd/evenbeat -run " + t.Name() + " -update writes it anew: read the difference before you keep it"
}

// Blocks of a page, README or a topic of help. A block of sort console holds calls that
// are run, each with what the program says; one of sort sh holds calls that are only
// looked over; one of sort sql holds a question to the demo's book, and the answer as
// remarks. A remark before a block may say what is typed into its calls (words or lines,
// set off by semicolons) or which paragraphs of the output are shown (by how they
// begin); "…" stands for the others.
//
//	<!-- typed: 45.02mm; 45.00mm -->
//	<!-- shown: Hall; Next -->
var (
	fenced  = regexp.MustCompile("(?ms)((?:^<!-- (?:typed|shown): [^\n]*? -->\n)*)^```(console|sh|sql)\n(.*?)^```\n")
	remark  = regexp.MustCompile(`<!-- (typed|shown): (.*?) -->`)
	picture = regexp.MustCompile(`!\[[^\]]+\]\((testdata/pictures/([a-z]+)\.svg)\)`)
)

// pages returns the files of README and of the topics of help, README first: its calls
// make the book that theirs read.
func pages(t *testing.T) []string {
	t.Helper()
	top := moduleRoot(t)
	topics, err := filepath.Glob(filepath.Join(top, "configs", "topics", "*.md"))
	if err != nil || len(topics) == 0 {
		t.Fatalf("%d topics, %v", len(topics), err)
	}
	return append([]string{filepath.Join(top, "README.md")}, topics...)
}

// read returns a file's text.
func read(t *testing.T, file string) string {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// blocks calls write for each block of a page and puts what it returns in the
// place of the block's text.
func blocks(page string, write func(sort, body string, typed, shown []string) string) string {
	var b strings.Builder
	done := 0
	for _, m := range fenced.FindAllStringSubmatchIndex(page, -1) {
		said := map[string][]string{}
		for _, r := range remark.FindAllStringSubmatch(page[m[2]:m[3]], -1) {
			said[r[1]] = strings.Split(r[2], "; ")
		}
		b.WriteString(page[done:m[6]])
		b.WriteString(write(page[m[4]:m[5]], page[m[6]:m[7]], said["typed"], said["shown"]))
		done = m[7]
	}
	return b.String() + page[done:]
}

// calls returns the calls of a console block, without the prompt and the program's
// name.
func calls(body string) []string {
	var all []string
	for line := range strings.Lines(body) {
		if call, ok := strings.CutPrefix(strings.TrimSpace(line), "$ evenbeat "); ok {
			all = append(all, call)
		}
	}
	return all
}

// words cuts a call as a shell would, as far as README needs it: at blanks, but not
// within double quotes. What follows a # is a remark.
func words(call string) []string {
	var all []string
	for _, w := range regexp.MustCompile(`"[^"]*"|\S+`).FindAllString(call, -1) {
		if w == "#" {
			break
		}
		all = append(all, strings.Trim(w, `"`))
	}
	return all
}

// excerpt keeps the paragraphs that begin as one of shown does; nil keeps all.
// Blanks at the ends of lines, which nobody sees, are taken off.
func excerpt(output string, shown []string) string {
	output = regexp.MustCompile(`(?m) +$`).ReplaceAllString(output, "")
	if shown == nil {
		return output
	}
	var kept []string
	for _, p := range strings.Split(strings.Trim(output, "\n"), "\n\n") {
		begins := false
		for _, s := range shown {
			begins = begins || strings.HasPrefix(strings.TrimSpace(p), s)
		}
		switch {
		case begins:
			kept = append(kept, p)
		case len(kept) == 0 || kept[len(kept)-1] != "…":
			kept = append(kept, "…")
		}
	}
	return strings.Join(kept, "\n\n") + "\n"
}

// both takes what goes to the terminal, from either stream, in order.
type both struct {
	mu  sync.Mutex
	all bytes.Buffer
}

func (b *both) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.all.Write(p)
}

// The outputs and pictures of README and the topics are the program's own: their calls
// are run in order, in an empty folder, and what they say and draw is held against the
// pages. The demo runs from its seed, so all of it is the same each time.
func TestReadme(t *testing.T) {
	all := pages(t)
	t.Chdir(t.TempDir())
	environ := []string{"EVENBEAT_BOOK=book.db", "HOME=" + t.TempDir(), "NO_COLOR=1"}
	ran := 0
	for _, file := range all {
		got := blocks(read(t, file), func(sort, body string, typed, shown []string) string {
			switch sort {
			case "sql":
				question := regexp.MustCompile("(?m)^-- .*\n").ReplaceAllString(body, "")
				return question + answer(t, filepath.Join("evenbeat-demo", "book.db"), question)
			case "sh":
				return body
			}
			var b strings.Builder
			for _, call := range calls(body) {
				ran++
				var said both
				in := strings.NewReader(strings.Join(typed, "\n"))
				if status := run(t.Context(), words(call), environ, in, &said, &said); status != statusDone {
					t.Errorf("evenbeat %s: status %d: %s", call, status, said.all.String())
				}
				b.WriteString("$ evenbeat " + call + "\n" + excerpt(said.all.String(), shown))
			}
			return b.String()
		})
		compare(t, file, []byte(got))
	}
	if ran == 0 {
		t.Error("README runs nothing")
	}
	if n := strings.Count(read(t, all[0]), "\n"); n >= 250 {
		t.Errorf("README has %d lines: what is read once a year belongs in a topic", n)
	}
	drawn := picture.FindAllStringSubmatch(read(t, all[0]), -1)
	if len(drawn) == 0 {
		t.Error("README shows no picture")
	}
	for _, p := range drawn {
		compare(t, filepath.Join(filepath.Dir(all[0]), filepath.FromSlash(p[1])), []byte(read(t, filepath.Join("evenbeat-demo", p[2]+".svg"))))
	}
}

// answer asks a book as an SQL tool does that may only read, and returns the table as
// remarks.
func answer(t *testing.T, book, question string) string {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+filepath.ToSlash(book)+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.QueryContext(t.Context(), question)
	if err != nil {
		t.Errorf("%v:\n%s", err, question)
		return ""
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		t.Fatal(err)
	}
	table, cells, to := [][]string{names}, make([]sql.NullString, len(names)), make([]any, len(names))
	for i := range cells {
		to[i] = &cells[i]
	}
	for rows.Next() {
		if err := rows.Scan(to...); err != nil {
			t.Fatal(err)
		}
		line := make([]string, len(cells))
		for i, c := range cells {
			line[i] = c.String
		}
		table = append(table, line)
	}
	if err := rows.Err(); err != nil || len(table) == 1 {
		t.Errorf("%d rows, %v:\n%s", len(table)-1, err, question)
	}
	var said bytes.Buffer
	w := tabwriter.NewWriter(&said, 0, 0, 2, ' ', 0)
	for _, line := range table {
		fmt.Fprintf(w, "-- %s\n", strings.Join(line, "\t"))
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	return regexp.MustCompile(`(?m) +$`).ReplaceAllString(said.String(), "")
}

// compare holds a file against what it should be, or writes it with -update.
func compare(t *testing.T, file string, want []byte) {
	t.Helper()
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, want, 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	have, err := os.ReadFile(file)
	if err != nil {
		t.Error(err)
		return
	}
	if bytes.Equal(have, want) {
		return
	}
	// The first line that differs is what one wants to see; pictures have long ones.
	h, w := strings.Split(string(have), "\n"), strings.Split(string(want), "\n")
	for i := range min(len(h), len(w)) {
		if h[i] != w[i] {
			t.Errorf("%s, line %d is stale:\n  has  %.200s\n  want %.200s\n%s", filepath.Base(file), i+1, h[i], w[i], redraw(t))
			return
		}
	}
	t.Errorf("%s has %d lines and should have %d: %s", filepath.Base(file), len(h), len(w), redraw(t))
}

// inline are calls within a sentence, which may break over lines.
var inline = regexp.MustCompile("`(evenbeat [^`]+)`")

// The calls that README, the topics and the developers' guide only name must be calls that the program takes.
func TestReadmeCalls(t *testing.T) {
	looked := 0
	take := func(file, call string) {
		looked++
		args := strings.Fields(call)[1:]
		if args[0] != "help" { // which is there only as the program runs
			parsed(t, "evenbeat "+strings.Join(args, " "))
		} else if status := run(t.Context(), args, nil, nil, io.Discard, io.Discard); status != statusDone {
			t.Errorf("%s: %s: status %d", file, call, status)
		}
	}
	for _, file := range pages(t) {
		text := blocks(read(t, file), func(sort, body string, _, _ []string) string {
			for line := range strings.Lines(body) {
				if line, _, _ = strings.Cut(strings.TrimSpace(line), " #"); sort == "sh" && strings.HasPrefix(line, "evenbeat ") {
					take(file, line)
				}
			}
			return ""
		})
		for _, m := range inline.FindAllStringSubmatch(text, -1) {
			take(file, m[1])
		}
	}
	guide := filepath.Join(moduleRoot(t), "DEVELOPERS.md")
	for _, m := range inline.FindAllStringSubmatch(read(t, guide), -1) {
		take(guide, m[1])
	}
	if looked < 20 {
		t.Errorf("only %d calls were looked at", looked)
	}
}

// The settings that README and the topics show as examples must load.
func TestReadmeSettings(t *testing.T) {
	profiles, plans := map[string]bool{}, map[string]bool{}
	for _, page := range pages(t) {
		for _, m := range regexp.MustCompile("(?ms)^```yaml\n(.*?)^```\n").FindAllStringSubmatch(read(t, page), -1) {
			file := filepath.Join(t.TempDir(), "config.yaml")
			if err := os.WriteFile(file, []byte(m[1]), 0o666); err != nil {
				t.Fatal(err)
			}
			home := t.TempDir()
			l, err := configs.Load(configs.LoadOptions{File: file, Environ: []string{"HOME=" + home, "USERPROFILE=" + home}, Formats: live.FormatProfiles()})
			if err != nil {
				t.Errorf("%s: %v", page, err)
				continue
			}
			for _, e := range l.Entries() {
				switch e.Key {
				case "profiles":
					profiles[fmt.Sprint(e.Value)] = true
				case "plans":
					plans[fmt.Sprint(e.Value)] = true
				}
			}
		}
	}
	if !profiles["my-micrometer"] || !plans["pivot-in-hole"] {
		t.Errorf("the examples hold the profiles %v and the plans %v", profiles, plans)
	}
}

// A stale block must be seen: the test of the test.
func TestReadmeBlocks(t *testing.T) {
	readme := "Words.\n\n<!-- typed: 1mm; 2mm -->\n<!-- shown: Hall; Next -->\n```console\n$ evenbeat clock add \"Big Hall\" # a remark\nold\n```\n\n```sh\nevenbeat spring\n```\n"
	var sorts []string
	got := blocks(readme, func(sort, body string, typed, shown []string) string {
		sorts = append(sorts, sort)
		if sort == "sh" {
			return body
		}
		if strings.Join(typed, "|") != "1mm|2mm" || strings.Join(shown, "|") != "Hall|Next" {
			t.Errorf("remarks: got typed %q, shown %q", typed, shown)
		}
		call := calls(body)[0]
		if w := words(call); strings.Join(w, "|") != "clock|add|Big Hall" {
			t.Errorf("words of %q: got %q", call, w)
		}
		return "$ evenbeat " + call + "\n" + excerpt("Hall\n  bore\n\nWhy\n  - so\n\nOn paper\n\nNext\n  → this\n", shown)
	})
	if strings.Join(sorts, "|") != "console|sh" {
		t.Errorf("blocks: got %q", sorts)
	}
	want := strings.Replace(readme, "old\n", "Hall\n  bore\n\n…\n\nNext\n  → this\n", 1)
	if got != want {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
}

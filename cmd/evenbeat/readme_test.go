package main

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/configs"
	"evenbeat/sessions"
)

var update = flag.Bool("update", false, "write README's outputs and pictures anew, from what the program says now")

// redraw is what mends a stale README.
const redraw = "go test ./cmd/evenbeat -run TestReadme -update writes it anew; read the difference before you keep it"

// Blocks of README. A block of sort console holds calls that are run, each with
// what the program says; one of sort sh holds calls that are only looked over. A
// remark before a block may say what is typed into its calls (words or lines, set
// off by semicolons) or which paragraphs of the output are shown (by how they
// begin); "…" stands for the others.
//
//	<!-- typed: 45.02mm; 45.00mm -->
//	<!-- shown: Hall; Next -->
var (
	fenced  = regexp.MustCompile("(?ms)((?:^<!-- (?:typed|shown): [^\n]*? -->\n)*)^```(console|sh)\n(.*?)^```\n")
	remark  = regexp.MustCompile(`<!-- (typed|shown): (.*?) -->`)
	picture = regexp.MustCompile(`!\[[^\]]+\]\((testdata/pictures/([a-z]+)\.svg)\)`)
)

// blocks calls write for each block of README and puts what it returns in the
// place of the block's text.
func blocks(readme string, write func(sort, body string, typed, shown []string) string) string {
	var b strings.Builder
	done := 0
	for _, m := range fenced.FindAllStringSubmatchIndex(readme, -1) {
		said := map[string][]string{}
		for _, r := range remark.FindAllStringSubmatch(readme[m[2]:m[3]], -1) {
			said[r[1]] = strings.Split(r[2], "; ")
		}
		b.WriteString(readme[done:m[6]])
		b.WriteString(write(readme[m[4]:m[5]], readme[m[6]:m[7]], said["typed"], said["shown"]))
		done = m[7]
	}
	return b.String() + readme[done:]
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

// README's outputs and pictures are the program's own: its calls are run in order,
// in an empty folder, and what they say and draw is held against it. The demo runs
// from its seed, so all of it is the same each time.
func TestReadme(t *testing.T) {
	top := moduleRoot(t)
	file := filepath.Join(top, "README.md")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	environ := []string{"EVENBEAT_BOOK=book.db", "HOME=" + t.TempDir(), "NO_COLOR=1"}
	ran := 0
	got := blocks(string(text), func(sort, body string, typed, shown []string) string {
		if sort != "console" {
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
	if ran == 0 {
		t.Error("README runs nothing")
	}
	compare(t, file, []byte(got))
	drawn := picture.FindAllStringSubmatch(string(text), -1)
	if len(drawn) == 0 {
		t.Error("README shows no picture")
	}
	for _, p := range drawn {
		svg, err := os.ReadFile(filepath.Join("evenbeat-demo", p[2]+".svg"))
		if err != nil {
			t.Error(err)
			continue
		}
		compare(t, filepath.Join(top, filepath.FromSlash(p[1])), svg)
	}
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
			t.Errorf("%s, line %d is stale:\n  has  %.200s\n  want %.200s\n%s", filepath.Base(file), i+1, h[i], w[i], redraw)
			return
		}
	}
	t.Errorf("%s has %d lines and should have %d: %s", filepath.Base(file), len(h), len(w), redraw)
}

// The calls that README only names must be calls that the program takes.
func TestReadmeCalls(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(moduleRoot(t), "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	looked := 0
	blocks(string(text), func(sort, body string, _, _ []string) string {
		for line := range strings.Lines(body) {
			call, ok := strings.CutPrefix(strings.TrimSpace(line), "evenbeat ")
			if sort != "sh" || !ok {
				continue
			}
			looked++
			c, rest, err := newRoot(&app{changed: map[string]string{}}).Find(words(call))
			if err != nil {
				t.Errorf("evenbeat %s: %v", call, err)
				continue
			}
			if err := c.ParseFlags(rest); err != nil {
				t.Errorf("evenbeat %s: %v", call, err)
				continue
			}
			if err := c.ValidateArgs(c.Flags().Args()); err != nil {
				t.Errorf("evenbeat %s: %v", call, err)
			}
		}
		return body
	})
	if looked == 0 {
		t.Error("README names no call")
	}
}

// The settings that README shows as an example must load.
func TestReadmeSettings(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(moduleRoot(t), "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile("(?ms)^```yaml\n(.*?)^```\n").FindSubmatch(text)
	if m == nil {
		t.Fatal("README shows no settings")
	}
	file := filepath.Join(t.TempDir(), "config.yaml")
	if err := os.WriteFile(file, m[1], 0o666); err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	l, err := configs.Load(configs.LoadOptions{File: file, Environ: []string{"HOME=" + home, "USERPROFILE=" + home}, Formats: live.FormatProfiles()})
	if err != nil {
		t.Fatal(err)
	}
	if p, err := l.Profile("my-micrometer"); err != nil || p.BuiltIn() {
		t.Errorf("my-micrometer: got %+v, %v", p, err)
	}
	if p, err := l.Plan("pivot-in-hole"); err != nil || len(p.Steps) != 2 || p.Finding != sessions.PivotFinding {
		t.Errorf("pivot-in-hole: got %+v, %v", p, err)
	}
	for _, f := range sessions.Findings() {
		if line := fmt.Sprintf("*%s* %s", f, strings.Join(f.Dimensions(), ", ")); !strings.Contains(string(text), line) {
			t.Errorf("README doesn't say: %s", line)
		}
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

// The guide's map must be the checkout's: every path that it names is there, and
// every room and table is named.
func TestGuide(t *testing.T) {
	top := moduleRoot(t)
	text, err := os.ReadFile(filepath.Join(top, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	guide := string(text)
	rooms := 0
	for _, m := range regexp.MustCompile("`((?:analysis|cmd|configs|devices|plots|sessions|testdata)(?:/[a-z0-9_.]+)*)`").FindAllStringSubmatch(guide, -1) {
		name := strings.TrimSuffix(m[1], "/...")
		if strings.Contains(name, "new") { // of a recipe
			continue
		}
		if _, err := os.Stat(filepath.Join(top, filepath.FromSlash(name))); err != nil {
			t.Errorf("the guide names %s: %v", m[1], err)
		}
	}
	err = filepath.WalkDir(top, func(name string, d os.DirEntry, err error) error {
		if err != nil || !d.IsDir() {
			return err
		}
		if name != top && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		sources, err := filepath.Glob(filepath.Join(name, "*.go"))
		if err != nil || len(sources) == 0 {
			return err
		}
		room, err := filepath.Rel(top, name)
		if err != nil {
			return err
		}
		rooms++
		if !strings.Contains(guide, "`"+filepath.ToSlash(room)+"`") {
			t.Errorf("the guide doesn't name %s", filepath.ToSlash(room))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	scripts, err := filepath.Glob(filepath.Join(top, "sessions", "book", "migrations", "*.sql"))
	if err != nil {
		t.Fatal(err)
	}
	tables := 0
	for _, script := range scripts {
		sql, err := os.ReadFile(script)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`CREATE TABLE (\w+)`).FindAllStringSubmatch(string(sql), -1) {
			tables++
			if !strings.Contains(guide, "| `"+m[1]+"` |") {
				t.Errorf("the guide doesn't tell of the table %s", m[1])
			}
		}
	}
	if rooms < 10 || tables < 10 {
		t.Errorf("only %d rooms and %d tables were looked for", rooms, tables)
	}
}

// Each promise in the guide names a test or a visit that shows it, and those that it names
// are there.
func TestGuidePromises(t *testing.T) {
	top := moduleRoot(t)
	text, err := os.ReadFile(filepath.Join(top, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, section, _ := strings.Cut(string(text), "\n## What can go wrong\n")
	section, _, _ = strings.Cut(section, "\n## ")
	named := regexp.MustCompile("`((?:Test|Fuzz)\\w+)`|\\(`([\\w/]+)`\\)|`(\\w+\\.txtar)`")
	rows := 0
	for line := range strings.Lines(section) {
		if !strings.HasPrefix(line, "| ") || strings.HasPrefix(line, "| what") || strings.HasPrefix(line, "| ---") {
			continue
		}
		rows++
		cells := strings.Split(line, " | ")
		var waiting []string // for the folder that is named behind them
		visits, tests := 0, 0
		for _, m := range named.FindAllStringSubmatch(cells[len(cells)-1], -1) {
			switch {
			case m[1] != "":
				waiting = append(waiting, m[1])
			case m[2] != "":
				have := testsIn(t, filepath.Join(top, filepath.FromSlash(m[2])))
				for _, name := range waiting {
					if tests++; !strings.Contains(have, "\nfunc "+name+"(") {
						t.Errorf("the guide names %s, which is not in %s", name, m[2])
					}
				}
				waiting = nil
			default:
				visits++
				if _, err := os.Stat(filepath.Join(top, "cmd", "evenbeat", "testdata", "script", m[3])); err != nil {
					t.Errorf("the guide names %s: %v", m[3], err)
				}
			}
		}
		if visits+tests == 0 || len(waiting) > 0 {
			t.Errorf("%d tests and %d visits, and no folder for %v: %s", tests, visits, waiting, line)
		}
	}
	if rows < 15 {
		t.Errorf("only %d promises were looked at", rows)
	}
}

// testsIn returns the tests in a folder, as text.
func testsIn(t *testing.T, folder string) string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(folder, "*_test.go"))
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all.Write(text)
	}
	return all.String()
}

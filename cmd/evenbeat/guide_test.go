package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

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

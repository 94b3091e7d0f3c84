package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// room is a folder and what it may import of the project. A name that ends in /...
// takes in what lies beneath. The first room that fits a package is its own.
type room struct {
	name string
	may  []string
}

// Bytes come in at devices, advice goes out at plots, and nothing flows back: so
// each room knows those before it at most, and cmd alone knows all.
var rooms = []room{
	{"devices/quantity", nil},
	{"devices", []string{"devices/quantity"}},
	{"devices/simulate/held", []string{"devices/quantity"}},
	{"devices/...", []string{"devices/..."}},
	{"sessions", []string{"devices/quantity"}},
	{"sessions/...", []string{"devices/...", "sessions/..."}},
	{"analysis/beat/robust", nil},
	{"analysis/beat/numbering", []string{"analysis/beat/robust"}},
	{"analysis/beat/phase", []string{"analysis/beat/numbering"}},
	{"analysis/beat/periodic", []string{"devices/quantity", "analysis/beat/robust", "analysis/beat/numbering", "analysis/beat/phase"}},
	{"analysis/beat/rate", []string{"devices/quantity", "analysis/beat/phase", "analysis/beat/periodic"}},
	{"analysis/...", []string{"devices/quantity", "sessions", "analysis/..."}},
	{"plots/...", []string{"devices/quantity", "sessions", "analysis/..."}},
	{"configs", []string{"devices/quantity", "sessions", "sessions/plan"}}, // plans are set down as they are measured by
	{"cmd/evenbeat/internal/render", []string{"devices/quantity", "sessions", "analysis/..."}},
	{"cmd/evenbeat/internal/live", []string{"devices/...", "sessions/...", "analysis/...", "configs"}},
	{"cmd/evenbeat/internal/...", []string{"devices/...", "sessions/...", "analysis/...", "plots/...", "configs",
		"cmd/evenbeat/internal/live", "cmd/evenbeat/internal/render"}}, // the faces: never each other
	{"cmd/...", []string{"devices/...", "sessions/...", "analysis/...", "plots/...", "configs", "cmd/..."}},
}

// inTests are what tests of any room may import besides: simulated instruments have
// a truth to hold results against, and held counts how often they do.
var inTests = []string{"devices/simulate", "devices/simulate/held"}

// kept are the packages of others, and of Go's own, that are kept to some rooms or
// out of one.
var kept = []struct {
	imported string
	only     []string
	never    []string
	why      string
}{
	{"go.bug.st/serial/...", []string{"devices/port"}, nil, "only port opens a serial port"},
	{"github.com/ncruces/go-sqlite3/...", []string{"sessions/..."}, nil, "the store stays behind one package"},
	{"database/sql", []string{"sessions/..."}, nil, "the store stays behind one package"},
	{"github.com/spf13/viper/...", []string{"configs"}, nil, "past configs there is a plain struct"},
	{"github.com/spf13/cobra/...", []string{"cmd/evenbeat"}, nil, "only commands know of the command line"},
	{"golang.org/x/term", nil, []string{"cmd/evenbeat/internal/live"}, "a session knows no terminal"},
	{"gonum.org/v1/plot/...", []string{"plots/..."}, nil, "only plots draws"},
	{"os", nil, []string{"analysis/..."}, "sums read no files"},
	{"net", nil, []string{"analysis/...", "plots/...", "sessions/...", "configs"}, "only ports and the bench page talk to anything"},
	{"net/http/...", []string{"cmd/evenbeat/internal/page"}, nil, "only the bench page is served"},
}

func within(name, pattern string) bool {
	folder, all := strings.CutSuffix(pattern, "/...")
	return name == folder || all && strings.HasPrefix(name, folder+"/")
}

// forbidden says why the package in folder from may not import what; "" if it may.
func forbidden(from, what string, test bool) string {
	fits := func(name string) func(string) bool {
		return func(pattern string) bool { return within(name, pattern) }
	}
	own, ours := strings.CutPrefix(what, "evenbeat/")
	if !ours {
		for _, k := range kept {
			if test || !within(what, k.imported) {
				continue
			}
			if k.only != nil && !slices.ContainsFunc(k.only, fits(from)) || slices.ContainsFunc(k.never, fits(from)) {
				return k.why
			}
		}
		return ""
	}
	i := slices.IndexFunc(rooms, func(r room) bool { return within(from, r.name) })
	switch {
	case i < 0:
		return "this folder is no room"
	case test && slices.ContainsFunc(inTests, fits(own)):
		return ""
	case from == own && test: // a test from outside, package x_test
		return ""
	case !slices.ContainsFunc(rooms[i].may, fits(own)):
		return rooms[i].name + " may import of the project only " + strings.Join(rooms[i].may, ", ")
	}
	return ""
}

// moduleRoot returns the module's folder.
func moduleRoot(t *testing.T) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test")
		}
		dir = up
	}
}

func TestImports(t *testing.T) {
	top, files := moduleRoot(t), 0
	err := filepath.WalkDir(top, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() && file != top && (strings.HasPrefix(name, ".") || name == "testdata") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") {
			return nil
		}
		files++
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(top, file)
		if err != nil {
			return err
		}
		for _, s := range parsed.Imports {
			what, err := strconv.Unquote(s.Path.Value)
			if err != nil {
				return err
			}
			if why := forbidden(path.Dir(filepath.ToSlash(rel)), what, strings.HasSuffix(name, "_test.go")); why != "" {
				t.Errorf("%s imports %s: %s", rel, what, why)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 10 {
		t.Errorf("only %d files were read", files)
	}
}

func TestForbidden(t *testing.T) {
	tests := []struct {
		from, what string
		test, ok   bool
	}{
		{"devices/quantity", "evenbeat/devices", false, false},
		{"devices", "evenbeat/devices/port", false, false},
		{"devices/port", "evenbeat/devices", false, true},
		{"devices/port", "evenbeat/sessions", false, false},
		{"devices/simulate", "evenbeat/devices/port", false, true},
		{"devices/simulate/held", "evenbeat/devices/port", false, false},
		{"sessions", "evenbeat/devices", false, false},
		{"sessions/recorder", "evenbeat/sessions/book", false, true},
		{"sessions/book", "evenbeat/analysis/beat", false, false},
		{"analysis", "evenbeat/sessions", false, true},
		{"analysis/spring", "evenbeat/sessions/book", false, false},
		{"analysis/spring", "evenbeat/devices/port", false, false},
		{"analysis/spring", "evenbeat/devices/simulate", false, false},
		{"analysis/spring", "evenbeat/devices/simulate", true, true},
		{"analysis/spring", "evenbeat/devices/port", true, false},
		{"analysis/spring", "evenbeat/analysis/spring", true, true},
		{"analysis/beat/numbering", "evenbeat/analysis/beat/periodic", false, false},
		{"analysis/beat/phase", "evenbeat/analysis/beat/rate", false, false},
		{"analysis/beat/periodic", "evenbeat/analysis/beat/rate", false, false},
		{"analysis/beat/rate", "evenbeat/analysis/beat/periodic", false, true},
		{"analysis/beat/rate", "evenbeat/analysis/beat", false, false},
		{"analysis/beat", "evenbeat/analysis/beat/rate", false, true},
		{"analysis/beat", "os", false, false},
		{"analysis/beat", "os", true, true},
		{"analysis/beat", "net/http", false, false},
		{"sessions/book", "net/url", false, true},
		{"sessions/book", "net", false, false},
		{"plots", "evenbeat/sessions", false, true},
		{"plots", "evenbeat/sessions/book", false, false},
		{"plots", "gonum.org/v1/plot/vg", false, true},
		{"analysis", "gonum.org/v1/plot", false, false},
		{"analysis", "gonum.org/v1/plotter", false, true}, // another module, whatever its name begins with
		{"configs", "evenbeat/devices", false, false},
		{"configs", "evenbeat/sessions/plan", false, true},
		{"configs", "evenbeat/sessions/book", false, false},
		{"configs", "github.com/spf13/viper", false, true},
		{"cmd/evenbeat", "github.com/spf13/viper", false, false},
		{"cmd/evenbeat", "evenbeat/plots", false, true},
		{"cmd/evenbeat", "evenbeat/cmd/evenbeat/internal/render", false, true},
		{"cmd/evenbeat/internal/render", "evenbeat/analysis/beat", false, true},
		{"cmd/evenbeat/internal/render", "evenbeat/sessions/book", false, false},
		{"cmd/evenbeat/internal/render", "evenbeat/cmd/evenbeat", false, false},
		{"plots", "evenbeat/cmd/evenbeat/page", false, false},
		{"cmd/evenbeat/internal/live", "evenbeat/sessions/recorder", false, true},
		{"cmd/evenbeat/internal/live", "evenbeat/cmd/evenbeat/internal/render", false, false},
		{"cmd/evenbeat/internal/live", "evenbeat/cmd/evenbeat", false, false},
		{"cmd/evenbeat/internal/live", "github.com/spf13/cobra", false, false},
		{"cmd/evenbeat/internal/live", "golang.org/x/term", false, false},
		{"cmd/evenbeat/internal/terminal", "evenbeat/cmd/evenbeat/internal/live", false, true},
		{"cmd/evenbeat/internal/terminal", "evenbeat/cmd/evenbeat/internal/demo", false, false},
		{"cmd/evenbeat/internal/demo", "evenbeat/cmd/evenbeat/internal/render", false, true},
		{"cmd/evenbeat/internal/page", "evenbeat/plots", false, true},
		{"cmd/evenbeat/internal/page", "net/http", false, true},
		{"cmd/evenbeat/internal/page", "evenbeat/sessions/book", false, true},
		{"cmd/evenbeat/internal/page", "evenbeat/cmd/evenbeat/internal/terminal", false, false},
		{"cmd/evenbeat", "net/http", false, false},
		{"cmd/evenbeat/internal/demo", "evenbeat/cmd/evenbeat/internal/terminal", false, false},
		{"util", "evenbeat/devices", false, false},
	}
	for _, test := range tests {
		if why := forbidden(test.from, test.what, test.test); (why == "") != test.ok {
			t.Errorf("%s imports %s (test %v): got %q", test.from, test.what, test.test, why)
		}
	}
}

// The top level holds the rooms and what a checkout needs, and nothing grows beside
// them unnoticed.
func TestTopLevel(t *testing.T) {
	top := moduleRoot(t)
	may := []string{"cmd", "devices", "sessions", "analysis", "plots", "configs", "testdata", "README.md", "DEVELOPERS.md",
		"go.mod", "go.sum", "LICENSE", ".gitignore", ".ci", ".git"}
	ignored, err := os.ReadFile(filepath.Join(top, ".gitignore"))
	if err != nil {
		t.Fatal(err)
	}
	may = append(may, strings.Fields(strings.ReplaceAll(string(ignored), "/", ""))...)
	entries, err := os.ReadDir(top)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !slices.ContainsFunc(may, func(p string) bool { ok, err := path.Match(p, e.Name()); return ok && err == nil }) {
			t.Errorf("%s has no place at the top level", e.Name())
		}
	}
}

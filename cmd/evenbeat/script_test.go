package main

import (
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"evenbeat": checkedMain})
}

// TestScripts runs each file of testdata/script as a user's visit: the real program,
// in a home of its own that is empty. Besides testscript's own commands there are
//
//	refused STATUS COMMAND...   ends with that status, one line of complaint, nothing
//	                            on standard output and no file changed
//	json FILE PATH [= V | ~ V TOLERANCE | < V | > V]
//	                            a value in JSON is there, and is so; ! json: is not there
//	demobook FILE               the book that evenbeat demo writes, made once a run
//	samebut COLUMN,... FILE FILE
//	                            two tables are the same but for those columns
//	samejson FILE FILE          two files of JSON are the same but for when they were made and
//	                            by which version
//	thousand FILE               the thousand frequencies of NIST SP 1065, p. 108
//	beatfile FILE               a clock's beats as counts of a device (see beatFile)
//	rewritten NEW FILE HOW      a table as another program would write it (see rewritten)
//
// those of benchCommands, for programs that run beside the script, and those of
// bookCommands.
func TestScripts(t *testing.T) {
	made, notAsDescribed := newDemoBook(t), filepath.Join(t.TempDir(), "answers")
	t.Cleanup(func() {
		all, err := os.ReadFile(notAsDescribed)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Error(err)
		}
		if len(all) > 0 {
			t.Errorf("answers in JSON that are not as their schema says:\n%s", all)
		}
	})
	cmds := benchCommands()
	maps.Copy(cmds, bookCommands())
	cmds["refused"] = refused
	cmds["json"] = checkJSON
	cmds["beatfile"] = beatFile
	cmds["thousand"] = thousand
	cmds["samebut"] = sameBut
	cmds["samejson"] = sameJSON
	cmds["described"] = describedFile
	cmds["rewritten"] = rewritten
	cmds["demobook"] = func(ts *testscript.TestScript, neg bool, args []string) {
		if neg || len(args) != 1 {
			ts.Fatalf("usage: demobook FILE")
		}
		book, err := made()
		ts.Check(err)
		ts.Check(os.WriteFile(ts.MkAbs(args[0]), book, 0o600))
	}
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		Cmds:                cmds,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			home := filepath.Join(e.WorkDir, "home")
			e.Setenv("HOME", home)
			e.Setenv("TZ", "UTC")
			e.Setenv(notAsDescribedVar, notAsDescribed)
			e.Setenv("ESC", "\x1b")   // which steers a terminal
			e.Setenv("RLO", "\u202e") // which turns a line round
			e.Values[benchKey{}] = newBenchOf(e)
			return os.Mkdir(home, 0o777)
		},
	})
}

// newDemoBook returns a function that makes the demo's book once, however many
// scripts ask for it.
func newDemoBook(t *testing.T) func() ([]byte, error) {
	dir := t.TempDir()
	return sync.OnceValues(func() ([]byte, error) {
		out := filepath.Join(dir, "demo")
		cmd := exec.Command("evenbeat", "demo", "--out", out)
		cmd.Env = append(os.Environ(), "HOME="+dir)
		if said, err := cmd.CombinedOutput(); err != nil {
			return nil, fmt.Errorf("evenbeat demo: %w\n%s", err, said)
		}
		return os.ReadFile(filepath.Join(out, "book.db"))
	})
}

// refused runs a command that must be refused cleanly.
func refused(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: refused STATUS COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	before := tree(ts)
	err = ts.Exec(args[1], args[2:]...)
	exit, ok := errors.AsType[*exec.ExitError](err)
	switch {
	case err == nil:
		ts.Fatalf("status 0, want %d", want)
	case !ok:
		ts.Fatalf("%v", err)
	case exit.ExitCode() != want:
		ts.Fatalf("status %d, want %d", exit.ExitCode(), want)
	}
	if out := ts.ReadFile("stdout"); out != "" {
		ts.Fatalf("standard output must stay empty, got %q", out)
	}
	line := ts.ReadFile("stderr")
	if !strings.HasPrefix(line, "evenbeat: ") || strings.Count(line, "\n") != 1 || !strings.HasSuffix(line, "\n") {
		ts.Fatalf("want one line that begins with the program's name, got:\n%s", line)
	}
	if after := tree(ts); after != before {
		ts.Fatalf("files before:\n%s\nand after:\n%s", before, after)
	}
}

// tree lists the files of the script with a sum of what is in them.
func tree(ts *testscript.TestScript) string {
	var list strings.Builder
	ts.Check(filepath.WalkDir(ts.Getenv("WORK"), func(name string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			fmt.Fprintln(&list, name)
			return err
		}
		all, err := os.ReadFile(name)
		fmt.Fprintf(&list, "%s %x\n", name, sha256.Sum256(all))
		return err
	}))
	return list.String()
}

// checkJSON looks a value up in a JSON document and compares it. No document may
// hold a null: what isn't known is left out.
func checkJSON(ts *testscript.TestScript, neg bool, args []string) {
	if n := len(args); n < 2 || n == 3 || n > 5 || neg && n != 2 {
		ts.Fatalf("usage: [!] json FILE PATH [= V | ~ V TOLERANCE | < V | > V]")
	}
	var doc any
	if err := json.Unmarshal([]byte(ts.ReadFile(args[0])), &doc); err != nil {
		ts.Fatalf("%s is no JSON: %v", args[0], err)
	}
	if hasNull(doc) {
		ts.Fatalf("%s holds a null", args[0])
	}
	got, ok := lookUp(doc, strings.Split(args[1], "."))
	if ok == neg {
		ts.Fatalf("%s: there %t, want %t", args[1], ok, !neg)
	}
	if len(args) > 2 {
		holdAgainst(ts, args[1], got, args[2:])
	}
}

func hasNull(v any) bool {
	switch v := v.(type) {
	case nil:
		return true
	case []any:
		for _, x := range v {
			if hasNull(x) {
				return true
			}
		}
	case map[string]any:
		for _, x := range v {
			if hasNull(x) {
				return true
			}
		}
	}
	return false
}

// lookUp follows a path of names and indices; len is the length of a list.
func lookUp(v any, path []string) (any, bool) {
	for _, step := range path {
		switch x := v.(type) {
		case map[string]any:
			var ok bool
			if v, ok = x[step]; !ok {
				return nil, false
			}
		case []any:
			if step == "len" {
				v = float64(len(x))
				continue
			}
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(x) {
				return nil, false
			}
			v = x[i]
		default:
			return nil, false
		}
	}
	return v, true
}

func holdAgainst(ts *testscript.TestScript, path string, got any, want []string) {
	if want[0] == "=" {
		if fmt.Sprint(got) != want[1] {
			ts.Fatalf("%s: got %v, want %s", path, got, want[1])
		}
		return
	}
	x, isNumber := got.(float64)
	y, err := strconv.ParseFloat(want[1], 64)
	if !isNumber || err != nil {
		ts.Fatalf("%s: got %v, want a number %s %s", path, got, want[0], want[1])
	}
	ok := false
	switch want[0] {
	case "<":
		ok = x < y
	case ">":
		ok = x > y
	case "~":
		if len(want) != 3 {
			ts.Fatalf("%s: ~ wants a value and a tolerance", path)
		}
		tolerance, err := strconv.ParseFloat(want[2], 64)
		ts.Check(err)
		ok = math.Abs(x-y) <= tolerance
	}
	if !ok {
		ts.Fatalf("%s: got %v, want %s", path, x, strings.Join(want, " "))
	}
}

// beatFile writes an hour of a clock that beats every 1.0001 s, tick longer than
// tock by 20 ms, as counts of a 32-bit microsecond counter that wraps on the way.
// Beats 100, 200 and 201 are missing, and after beat 300 comes an echo 30 ms later.
func beatFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: beatfile FILE")
	}
	const start = 1<<32 - 1_000_000_000 // wraps after 1000 s
	var f strings.Builder
	f.WriteString("# counts of one million a second, 32 bits\n")
	for i := range int64(3600) {
		at := start + i*1_000_100 + i%2*10_000
		if i != 100 && i != 200 && i != 201 {
			fmt.Fprintf(&f, "%d\n", at%(1<<32))
		}
		if i == 300 {
			fmt.Fprintf(&f, "%d\n", (at+30_000)%(1<<32))
		}
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(f.String()), 0o666))
}

// thousand writes the frequencies of NIST SP 1065, p. 108: n' = 16807 n mod (2^31 - 1)
// from 1234567890 on, as shares of 2^31 - 1.
func thousand(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: thousand FILE")
	}
	const modulus = 1<<31 - 1
	var f strings.Builder
	for n, i := int64(1234567890), 0; i < 1000; i++ {
		fmt.Fprintf(&f, "%.17g\n", float64(n)/modulus)
		n = 16807 * n % modulus
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(f.String()), 0o666))
}

func sameBut(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: samebut COLUMN,... FILE FILE")
	}
	left := strings.Split(args[0], ",")
	var tables [2][][]string
	for i, name := range args[1:] {
		rows, err := csv.NewReader(strings.NewReader(ts.ReadFile(name))).ReadAll()
		ts.Check(err)
		for _, row := range rows {
			var kept []string
			for c, cell := range row {
				if !slices.Contains(left, rows[0][c]) {
					kept = append(kept, cell)
				}
			}
			tables[i] = append(tables[i], kept)
		}
	}
	for i := range max(len(tables[0]), len(tables[1])) {
		if i >= len(tables[0]) || i >= len(tables[1]) || !slices.Equal(tables[0][i], tables[1][i]) {
			ts.Fatalf("%s and %s differ in row %d", args[1], args[2], i+1)
		}
	}
}

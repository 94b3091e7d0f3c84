package configs

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// load reads text as the file FILE of --config in an empty home.
func load(t *testing.T, text string) (Loaded, error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "bench.yaml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return Load(LoadOptions{File: file, Environ: []string{"HOME=/home/a"}, Formats: someFormats()})
}

func TestDefaults(t *testing.T) {
	l, err := Load(LoadOptions{Environ: []string{"HOME=" + t.TempDir()}})
	if err != nil {
		t.Fatal(err)
	}
	s := l.Settings
	if !strings.HasSuffix(s.Book, filepath.Join("evenbeat", "book.db")) || s.Units != "" || s.Log.Level != "warn" {
		t.Errorf("got book %q, units %q, level %q", s.Book, s.Units, s.Log.Level)
	}
	if s.Spring.FillLow != 0.40 || s.Spring.FillHigh != 0.60 || s.Spring.ModulusGPa != 206 || s.Typed.LimitMM != 0.02 {
		t.Errorf("got %+v, %+v", s.Spring, s.Typed)
	}
	if s.Pendulum.LatitudeDeg != nil || s.Pendulum.GravityMS2 != nil {
		t.Errorf("a place nobody gave: %+v", s.Pendulum)
	}
	if l.File != "" || l.Sources["spring.fill_low"].String() != "default" {
		t.Errorf("read %q, fill_low from %s", l.File, l.Sources["spring.fill_low"])
	}
}

// Every key is a field of Settings and the other way round, and its default is one
// that the key itself takes.
func TestKeysAndFieldsAgree(t *testing.T) {
	fields := wordsOf(reflect.TypeFor[Settings](), "")
	var names []string
	for _, k := range keys() {
		names = append(names, k.name)
		if k.meaning == "" {
			t.Errorf("%s has no meaning", k.name)
		}
		if err := k.check(k.def); err != nil {
			t.Errorf("default of %s: %v", k.name, err)
		}
		_, number := k.def.(float64)
		if (number || k.def == nil) && k.low >= k.high {
			t.Errorf("%s has no range", k.name)
		}
	}
	for _, f := range fields {
		if !strings.Contains(" "+strings.Join(names, " ")+" ", " "+f+" ") {
			t.Errorf("field %s is no key", f)
		}
	}
	if len(fields) != len(names) {
		t.Errorf("%d fields, %d keys", len(fields), len(names))
	}
}

func TestFileEnvironmentFlag(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "bench.yaml")
	text := `# a bench
units: in
zone: Europe/Paris
book: clocks.db
typed:
  limit_mm: 0.05
spring:
  fill_low: 0.35
  fill_high: 0.65
pendulum:
  latitude_deg: -33
`
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := Load(LoadOptions{
		File: file,
		Environ: []string{"HOME=/home/a", "EVENBEAT_CONFIG=/nowhere", "EVENBEAT_SPRING_FILL_LOW=0.30",
			"EVENBEAT_SPRING_FILL_LOW=0.33", "EVENBEAT_UNITS=both", "EVENBEAT_ZONE="},
		Flags: map[string]string{"units": "mm", "log.level": "debug"},
	})
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		key   string
		value any
		from  string
	}{
		{"units", "mm", "flag"},
		{"log.level", "debug", "flag"},
		{"zone", "Europe/Paris", file + ":3"},
		{"book", filepath.Join(dir, "clocks.db"), file + ":4"},
		{"typed.limit_mm", 0.05, file + ":6"},
		{"spring.fill_low", 0.33, "EVENBEAT_SPRING_FILL_LOW"},
		{"spring.fill_high", 0.65, file + ":9"},
		{"pendulum.latitude_deg", -33.0, file + ":11"},
		{"pendulum.gravity_m_s2", "", "default"},
		{"spring.modulus_gpa", 206.0, "default"},
	}
	entries := map[string]Entry{}
	for _, e := range l.Entries() {
		entries[e.Key] = e
	}
	for _, test := range tests {
		if e := entries[test.key]; e.Value != test.value || e.From != test.from {
			t.Errorf("%s: got %v from %s, want %v from %s", test.key, e.Value, e.From, test.value, test.from)
		}
	}
	if l.Settings.Pendulum.LatitudeDeg == nil || *l.Settings.Pendulum.LatitudeDeg != -33 {
		t.Errorf("latitude %v", l.Settings.Pendulum.LatitudeDeg)
	}
}

func TestBookPath(t *testing.T) {
	for in, want := range map[string]string{"~/clocks.db": "/home/a/clocks.db", "~" + string(filepath.Separator) + "my/clocks.db": "/home/a/my/clocks.db", "/srv/clocks.db": "/srv/clocks.db", "": ""} {
		if got := besideFile(in, "/etc/bench.yaml", "/home/a"); filepath.ToSlash(got) != want {
			t.Errorf("book %q: got %s, want %s", in, got, want)
		}
	}
	if got := besideFile("clocks.db", filepath.Join("etc", "bench.yaml"), ""); got != filepath.Join("etc", "clocks.db") {
		t.Errorf("got %s", got)
	}
	// A flag's path is the caller's, from where the program was started.
	l, err := Load(LoadOptions{Environ: []string{"HOME=/home/a"}, Flags: map[string]string{"book": "here.db"}})
	if err != nil || l.Settings.Book != "here.db" {
		t.Errorf("got %s, %v", l.Settings.Book, err)
	}
}

func TestFolders(t *testing.T) {
	tests := []struct {
		system, env  string
		config, data string
	}{
		{"linux", "HOME=/home/a", "/home/a/.config/evenbeat", "/home/a/.local/share/evenbeat"},
		{"linux", "HOME=/home/a XDG_CONFIG_HOME=/c XDG_DATA_HOME=/d", "/c/evenbeat", "/d/evenbeat"},
		{"linux", "HOME=/home/a XDG_CONFIG_HOME=c XDG_DATA_HOME=d", "/home/a/.config/evenbeat", "/home/a/.local/share/evenbeat"},
		{"linux", "", "", ""},
		{"darwin", "HOME=/Users/a", "/Users/a/Library/Application Support/evenbeat", "/Users/a/Library/Application Support/evenbeat"},
		{"windows", "APPDATA=/r LOCALAPPDATA=/l HOME=/h", "/r/evenbeat", "/l/evenbeat"},
	}
	for _, test := range tests {
		config, data := folders(test.system, strings.Fields(test.env))
		if filepath.ToSlash(config) != test.config || filepath.ToSlash(data) != test.data {
			t.Errorf("%s, %s: got %s and %s, want %s and %s", test.system, test.env, config, data, test.config, test.data)
		}
	}
	if got := (environ{"USERPROFILE=/p", "HOME=/h"}).home("windows"); got != "/p" {
		t.Errorf("got %s", got)
	}
}

func TestEnvironmentAndFlagsRefused(t *testing.T) {
	tests := []struct {
		name string
		o    LoadOptions
		want string
	}{
		{"misspelt variable", LoadOptions{Environ: []string{"EVENBEAT_UNTIS=mm"}},
			"EVENBEAT_UNTIS: no setting goes by this variable: did you mean EVENBEAT_UNITS?"},
		{"variable far from any", LoadOptions{Environ: []string{"EVENBEAT_XYZZY=1"}},
			"EVENBEAT_XYZZY: no setting goes by this variable: did you mean EVENBEAT_BOOK?"},
		{"no number", LoadOptions{Environ: []string{"EVENBEAT_SPRING_FILL_LOW=0,4"}},
			`EVENBEAT_SPRING_FILL_LOW: spring.fill_low "0,4" is no number: write it like 0.5`},
		{"not a number", LoadOptions{Environ: []string{"EVENBEAT_SPRING_FILL_LOW=NaN"}},
			"EVENBEAT_SPRING_FILL_LOW: spring.fill_low NaN: must be 0.05 to 0.5"},
		{"infinite", LoadOptions{Environ: []string{"EVENBEAT_TYPED_LIMIT_MM=inf"}},
			"EVENBEAT_TYPED_LIMIT_MM: typed.limit_mm +Inf: must be 0.0001 to 10 mm"},
		{"unknown word", LoadOptions{Flags: map[string]string{"units": "cubits"}},
			`--units "cubits" is not known: use mm, in or both`},
		{"unknown level", LoadOptions{Flags: map[string]string{"log.level": "loud"}},
			`--log-level "loud" is not known: use trace, debug, info, warn, error or disabled`},
		{"flag out of range", LoadOptions{Flags: map[string]string{"check.limit_s": "1e3"}},
			"--check-limit-s 1000: must be 0.001 to 60 s"},
		{"unknown zone", LoadOptions{Flags: map[string]string{"zone": "Europe/Pairs"}},
			`--zone "Europe/Pairs" is not known: write it like Europe/Paris`},
		{"flag for no setting", LoadOptions{Flags: map[string]string{"spring.fil_low": "1"}},
			"--spring-fil-low is no setting: did you mean spring.fill_low?"},
		{"file of the environment", LoadOptions{Environ: []string{"EVENBEAT_CONFIG=/nowhere/bench.yaml"}},
			"EVENBEAT_CONFIG: settings file /nowhere/bench.yaml does not exist"},
		{"file of the flag", LoadOptions{File: "/nowhere/bench.yaml", Environ: []string{"EVENBEAT_CONFIG=/nowhere/else.yaml"}},
			"--config: settings file /nowhere/bench.yaml does not exist"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := Load(test.o)
			refused(t, err, test.want)
		})
	}
}

// refused holds an error against its whole message.
func refused(t *testing.T, err error, want string) {
	t.Helper()
	if err == nil {
		t.Fatalf("taken, want: %s", want)
	}
	if err.Error() != want {
		t.Errorf("got  %s\nwant %s", err, want)
	}
	if _, ok := errors.AsType[*Error](err); !ok {
		t.Errorf("%T can't be told from other errors", err)
	}
}

// The user's own file is found without being named, may be missing, and may not be
// unreadable.
func TestUsualFile(t *testing.T) {
	home := t.TempDir()
	o := LoadOptions{Environ: []string{"HOME=" + home, "APPDATA=" + home, "LOCALAPPDATA=" + home}}
	l, err := Load(o)
	if err != nil || l.File != "" || !strings.HasPrefix(l.Usual, home) {
		t.Fatalf("read %q, usual %q, %v", l.File, l.Usual, err)
	}
	if err := os.MkdirAll(filepath.Dir(l.Usual), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(l.Usual, []byte("units: in\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if l, err = Load(o); err != nil || l.File != l.Usual || l.Settings.Units != "in" {
		t.Errorf("read %q, units %q, %v", l.File, l.Settings.Units, err)
	}
	folder := LoadOptions{File: home}
	_, err = Load(folder)
	var path *fs.PathError
	if !errors.As(err, &path) || !strings.HasPrefix(err.Error(), "settings file can't be read: ") {
		t.Errorf("a folder as settings file: %v", err)
	}
}

func TestEntryJSON(t *testing.T) {
	got, err := json.Marshal([]Entry{
		{Key: "units", Value: "", From: "default", Meaning: "m"},
		{Key: "typed.limit_mm", Value: 0.02, Unit: "mm", From: "default", Meaning: "m"},
	})
	want := `[{"key":"units","from":"default","meaning":"m"},` +
		`{"key":"typed.limit_mm","value":0.02,"unit":"mm","from":"default","meaning":"m"}]`
	if err != nil || string(got) != want {
		t.Errorf("got  %s, %v\nwant %s", got, err, want)
	}
}

func FuzzSettingsFile(f *testing.F) {
	for _, s := range []string{"units: mm\n", "spring:\n  fill_low: 0.4\n", "profiles:\n- name: a\n  format: text-length\n",
		"plans:\n- steps:\n  - ask: x\n", "a: &b [*b]\n", "<<: {units: mm}\n", "? [x]\n: y\n", "--- \n---\n", "\xff\xfe", "profiles: [1]\nplans: {}\n"} {
		f.Add([]byte(s))
	}
	file := filepath.Join(f.TempDir(), "bench.yaml")
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(file, text, 0o600); err != nil {
			t.Fatal(err)
		}
		l, err := Load(LoadOptions{File: file, Formats: someFormats()})
		if err != nil {
			if e, ok := errors.AsType[*Error](err); !ok || strings.ContainsAny(e.Problem, "\n") {
				t.Fatalf("%q", err)
			}
			return
		}
		for _, k := range keys() {
			if err := k.check(leaf(reflect.ValueOf(l.Settings), k.name)); err != nil {
				t.Fatal(err)
			}
		}
	})
}

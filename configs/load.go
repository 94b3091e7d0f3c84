package configs

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/spf13/viper"
)

const (
	envPrefix = "EVENBEAT_"
	envConfig = "EVENBEAT_CONFIG"
)

// LoadOptions is where settings come from.
type LoadOptions struct {
	File    string            // settings file named by --config; "" if none was
	Environ []string          // as os.Environ gives it
	Flags   map[string]string // what the user changed by flags, by key
	// Formats are the wire formats, each as the profile of its name: its title, its kind,
	// and whatever differs from the usual.
	Formats []Profile
}

// Loaded is what is in force, and where it came from.
type Loaded struct {
	Settings Settings
	Sources  map[string]Source // by key
	File     string            // settings file that was read; "" if none was
	Usual    string            // where the user's own settings file is looked for; "" if not known

	profiles func() ([]Profile, error)
	plans    func() ([]ownedPlan, error)
}

// Load reads the settings. A file overrides the defaults, the environment
// (EVENBEAT_SPRING_FILL_LOW for spring.fill_low) overrides the file, and flags override
// all. An error is an *Error that names the place, the thing, its value and the remedy.
func Load(o LoadOptions) (Loaded, error) {
	env := environ(o.Environ)
	config, data := folders(runtime.GOOS, env)
	l := Loaded{Sources: map[string]Source{}}
	if config != "" {
		l.Usual = filepath.Join(config, "config.yaml")
	}
	var err error
	if l.File, err = findFile(o, l.Usual); err != nil {
		return Loaded{}, err
	}
	var file read
	if l.File != "" {
		if file, err = readFile(l.File, env.home(runtime.GOOS)); err != nil {
			return Loaded{}, err
		}
	}
	given, err := l.gather(file, env, o.Flags)
	if err != nil {
		return Loaded{}, err
	}
	if l.Settings, err = merge(data, file, given); err != nil {
		return Loaded{}, err
	}
	for _, k := range keys() {
		if err := k.check(leaf(reflect.ValueOf(l.Settings), k.name)); err != nil {
			return Loaded{}, k.refused(l.Sources[k.name], err)
		}
	}
	// Built-in ones are read when they are first needed: most commands don't need them, and
	// reading them takes longer than all the rest here. A fault in the user's own is an
	// error at once.
	l.profiles = sync.OnceValues(func() ([]Profile, error) { return profiles(file, o.Formats) })
	l.plans = sync.OnceValues(func() ([]ownedPlan, error) { return plans(file) })
	if file.profiles != nil {
		if _, err := l.profiles(); err != nil {
			return Loaded{}, err
		}
	}
	if file.plans != nil {
		if _, err := l.plans(); err != nil {
			return Loaded{}, err
		}
	}
	return l, nil
}

// gather returns the values of environment and flags, in the types of their keys, and notes
// where each value comes from.
func (l *Loaded) gather(file read, env environ, flags map[string]string) (map[string]any, error) {
	if err := checkNames(env, flags); err != nil {
		return nil, err
	}
	given := map[string]any{}
	for _, k := range keys() {
		if line, ok := file.lines[k.name]; ok {
			l.Sources[k.name] = Source{File: file.file, Line: line}
		} else {
			l.Sources[k.name] = Source{}
		}
		texts := []struct{ text, from string }{{env.get(envName(k.name)), envName(k.name)}, {flags[k.name], fromFlag}}
		for _, t := range texts {
			if t.text == "" {
				continue
			}
			from := Source{Name: t.from}
			value, err := typed(k, t.text)
			if err != nil {
				return nil, k.refused(from, err)
			}
			given[k.name], l.Sources[k.name] = value, from
		}
	}
	return given, nil
}

// typed reads a text as the kind of value that the key has.
func typed(k key, text string) (any, error) {
	switch k.def.(type) {
	case string:
		return text, nil
	case []string:
		return strings.Split(text, ","), nil
	case bool:
		switch text {
		case "true", "false":
			return text == "true", nil
		}
		return nil, fmt.Errorf("%q must be true or false", text)
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return nil, fmt.Errorf("%q is no number: write it like 0.5", text)
	}
	return x, nil
}

// merge puts the sources together. Values from the environment are set as those from flags
// are, not bound: viper would read the process's own environment, and as text.
func merge(data string, file read, given map[string]any) (Settings, error) {
	v := viper.New()
	for _, k := range keys() {
		if k.def != nil {
			v.SetDefault(k.name, k.def)
		}
	}
	if data != "" {
		v.SetDefault("book", filepath.Join(data, "book.db"))
	}
	if err := v.MergeConfigMap(nested(file.values)); err != nil {
		return Settings{}, &Error{Where: file.file, Problem: "settings can't be read", Err: err}
	}
	for name, value := range given {
		v.Set(name, value)
	}
	var s Settings
	if err := v.UnmarshalExact(&s); err != nil {
		return Settings{}, &Error{Where: file.file, Problem: "settings can't be read", Err: err}
	}
	return s, nil
}

// FlagName returns the name of the flag for a key, without its dashes: log-level for
// log.level.
func FlagName(key string) string { return strings.NewReplacer(".", "-", "_", "-").Replace(key) }

func envName(key string) string {
	return envPrefix + strings.ToUpper(strings.ReplaceAll(key, ".", "_"))
}

// checkNames finds a variable with our prefix that nothing reads, or a flag for no setting.
// Otherwise a typing error in its name would never be noticed.
func checkNames(env environ, flags map[string]string) error {
	known, names := []string{envConfig}, []string{}
	for _, k := range keys() {
		known, names = append(known, envName(k.name)), append(names, k.name)
	}
	for name := range flags {
		if !slices.Contains(names, name) {
			return &Error{Problem: fmt.Sprintf("--%s is no setting: %s", FlagName(name), Meant(name, names))}
		}
	}
	for _, line := range env {
		name, _, _ := strings.Cut(line, "=")
		if strings.HasPrefix(name, envPrefix) && !slices.Contains(known, name) {
			return at(Source{Name: name}, "no setting goes by this variable: %s", Meant(name, known))
		}
	}
	return nil
}

// Entry is one setting in force.
type Entry struct {
	Key     string `json:"key"`             // its name in the settings file
	Value   any    `json:"value,omitempty"` // a text, number, truth value or list of texts; "" where nothing is given
	Unit    string `json:"unit,omitempty"`  // of the value
	From    string `json:"from"`            // "default", "bench.yaml:3", "EVENBEAT_UNITS", "flag"
	Meaning string `json:"meaning"`         // in a few words
}

// MarshalJSON leaves out what is not given.
func (e Entry) MarshalJSON() ([]byte, error) {
	if e.Value == "" {
		e.Value = nil
	}
	type plain Entry // without this method
	return json.Marshal(plain(e))
}

// Entries lists all that is in force: each key with its value and where that came from, then
// the profiles and plans from a file.
func (l Loaded) Entries() []Entry {
	var entries []Entry
	for _, k := range keys() {
		value := leaf(reflect.ValueOf(l.Settings), k.name)
		if list, ok := value.([]string); value == nil || ok && len(list) == 0 {
			value = ""
		}
		entries = append(entries, Entry{Key: k.name, Value: value, Unit: k.unit, From: l.Sources[k.name].String(), Meaning: k.meaning})
	}
	profiles, _ := l.profiles() // a fault in the user's own was Load's
	for _, p := range profiles {
		if p.From.File != "" {
			entries = append(entries, Entry{Key: "profiles", Value: p.Name, From: p.From.String(), Meaning: p.Title})
		}
	}
	plans, _ := l.plans()
	for _, p := range plans {
		if p.from.File != "" {
			entries = append(entries, Entry{Key: "plans", Value: p.Name, From: p.from.String(), Meaning: p.Title})
		}
	}
	return entries
}

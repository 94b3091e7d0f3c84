package configs

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"sync"

	"go.yaml.in/yaml/v3"
)

// maxFile is more than any settings file needs, and small enough to read whole.
const maxFile = 1 << 20

// fileSettings is what a settings file may hold.
type fileSettings struct {
	Settings
	Profiles *yaml.Node `mapstructure:"profiles"`
	Plans    *yaml.Node `mapstructure:"plans"`
}

// read is a settings file whose keys and kinds of value were checked, but not yet its
// ranges.
type read struct {
	file     string
	values   map[string]any // by dotted key
	lines    map[string]int // the same keys
	profiles *yaml.Node     // nil if there are none
	plans    *yaml.Node
}

// findFile returns the settings file to read: the one that the flag or the environment
// names, else the user's own if there is one, else "".
func findFile(o LoadOptions, usual string) (string, error) {
	env := environ(o.Environ).get(envConfig)
	for _, named := range []struct{ file, by string }{{o.File, "--config"}, {env, envConfig}} {
		if named.file == "" {
			continue
		}
		if _, err := os.Stat(named.file); errors.Is(err, fs.ErrNotExist) {
			return "", &Error{Where: named.by, Problem: fmt.Sprintf("settings file %s does not exist", named.file)}
		}
		return named.file, nil
	}
	if usual == "" {
		return "", nil
	}
	if _, err := os.Stat(usual); errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	return usual, nil
}

// readFile reads a settings file and checks its keys. home is what ~ stands for.
func readFile(file, home string) (read, error) {
	text, err := contents(file)
	if err != nil {
		return read{}, &Error{Problem: "settings file can't be read", Err: err}
	}
	r := read{file: file, values: map[string]any{}}
	root, err := parse(file, text)
	if err != nil || root == nil {
		return r, err
	}
	var s fileSettings
	f := filler{file: file, words: wordsOf(reflect.TypeFor[fileSettings](), ""), lines: map[string]int{}}
	if err := f.fill(root, reflect.ValueOf(&s).Elem(), ""); err != nil {
		return r, err
	}
	r.lines, r.profiles, r.plans = f.lines, s.Profiles, s.Plans
	for _, k := range keys() {
		if _, ok := f.lines[k.name]; ok {
			r.values[k.name] = leaf(reflect.ValueOf(s.Settings), k.name)
		}
	}
	if book, ok := r.values["book"].(string); ok {
		r.values["book"] = besideFile(book, file, home)
	}
	return r, nil
}

func contents(file string) ([]byte, error) {
	in, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer func() { _ = in.Close() }() // only read: nothing can be lost
	text, err := io.ReadAll(io.LimitReader(in, maxFile+1))
	if err == nil && len(text) > maxFile {
		err = fmt.Errorf("%s: larger than %d bytes", file, maxFile)
	}
	return text, err
}

// besideFile makes a path in a settings file independent of where the program starts.
func besideFile(path, file, home string) string {
	if len(path) > 1 && path[0] == '~' && os.IsPathSeparator(path[1]) && home != "" {
		return filepath.Join(home, path[2:])
	}
	if path == "" || filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(filepath.Dir(file), path)
}

var yamlError = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^(?:yaml: )?(?:line (\d+): )?(.*)$`) })

// parse returns the top node of a YAML text; nil for one that is empty or holds
// only comments.
func parse(file string, text []byte) (*yaml.Node, error) {
	d := yaml.NewDecoder(bytes.NewReader(text))
	var doc, more yaml.Node
	err := d.Decode(&doc)
	if errors.Is(err, io.EOF) {
		return nil, nil
	}
	if err != nil {
		m := yamlError().FindStringSubmatch(strings.ReplaceAll(err.Error(), "\n", " "))
		line, _ := strconv.Atoi(m[1])
		return nil, at(Source{File: file, Line: line}, "this is not YAML: %s", m[2])
	}
	if err := d.Decode(&more); !errors.Is(err, io.EOF) {
		return nil, at(Source{File: file, Line: more.Line}, "a second document begins here: only one is read")
	}
	root := doc.Content[0]
	if root.Kind == yaml.ScalarNode && root.Tag == "!!null" {
		return nil, nil
	}
	if root.Kind != yaml.MappingNode {
		return nil, at(Source{File: file, Line: root.Line}, "settings are lines of a key, a colon and a value")
	}
	return root, nil
}

// nested makes {spring: {fill_low: 0.4}} of {spring.fill_low: 0.4}.
func nested(values map[string]any) map[string]any {
	tree := map[string]any{}
	for name, value := range values {
		parts := strings.Split(name, ".")
		group := tree
		for _, part := range parts[:len(parts)-1] {
			inner, ok := group[part].(map[string]any)
			if !ok {
				inner = map[string]any{}
				group[part] = inner
			}
			group = inner
		}
		group[parts[len(parts)-1]] = value
	}
	return tree
}

package configs

import (
	"math"
	"reflect"
	"strings"

	"go.yaml.in/yaml/v3"
)

// filler reads YAML nodes into structs, strictly: a key that the struct lacks, a key given
// twice and a value of another kind are errors with their line. YAML's own decoder takes 1.9
// for 1, true for "true" and an empty value for nothing.
type filler struct {
	file  string
	words []string       // every known key, dotted, for "did you mean …?"
	lines map[string]int // the line of each key that was filled
}

// fill reads the mapping n into the struct s. path is the dotted key of n, with a dot behind
// it.
func (f *filler) fill(n *yaml.Node, s reflect.Value, path string) error {
	if n.Kind != yaml.MappingNode {
		what := strings.TrimSuffix(path, ".")
		if what == "" {
			what = "an item of a list"
		}
		return f.at(n, "%s must hold keys and their values, one a line", what)
	}
	seen := map[string]bool{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		name, value := n.Content[i], n.Content[i+1]
		key := path + name.Value
		field, ok := fieldOf(s, name.Value)
		switch {
		case !ok:
			return f.unknown(name, key)
		case seen[name.Value]:
			return f.at(name, "%s is given twice: keep one", key)
		}
		seen[name.Value] = true
		f.lines[key] = name.Line
		if err := f.value(value, field, key); err != nil {
			return err
		}
	}
	return nil
}

func (f *filler) unknown(name *yaml.Node, key string) error {
	group, rest, dotted := strings.Cut(name.Value, ".")
	for _, w := range f.words {
		if dotted && w == key {
			return f.at(name, "%s can't stand in one line: write %s: and below it, indented, %s:", key, group, rest)
		}
	}
	return f.at(name, "%s is not known: %s", key, Meant(key, f.words))
}

// value reads n into the field v.
func (f *filler) value(n *yaml.Node, v reflect.Value, key string) error {
	switch {
	case n.Kind == yaml.AliasNode || n.Anchor != "":
		return f.at(n, "%s refers to another value: write it out", key)
	case n.Kind == yaml.ScalarNode && n.Tag == "!!null":
		return f.at(n, "%s has no value: give it one, or leave the line out", key)
	}
	if v.Type() == reflect.TypeFor[*yaml.Node]() {
		v.Set(reflect.ValueOf(n))
		return nil
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		return f.value(n, v.Elem(), key)
	case reflect.Struct:
		return f.fill(n, v, key+".")
	case reflect.Slice:
		if n.Kind != yaml.SequenceNode {
			return f.at(n, "%s must be a list: begin each of its lines with a dash", key)
		}
		v.Set(reflect.MakeSlice(v.Type(), len(n.Content), len(n.Content)))
		for i, item := range n.Content {
			if err := f.value(item, v.Index(i), key); err != nil {
				return err
			}
		}
		return nil
	}
	return f.scalar(n, v, key)
}

func (f *filler) scalar(n *yaml.Node, v reflect.Value, key string) error {
	if n.Kind != yaml.ScalarNode {
		return f.at(n, "%s must be one value, not several", key)
	}
	switch v.Kind() {
	case reflect.String:
		if n.Tag != "!!str" {
			return f.at(n, "%s: %s is no text: put it in quotes", key, n.Value)
		}
		v.SetString(n.Value)
	case reflect.Bool:
		if n.Tag != "!!bool" || n.Decode(v.Addr().Interface()) != nil {
			return f.at(n, "%s: %q must be true or false", key, n.Value)
		}
	case reflect.Float64:
		var x float64
		if n.Tag != "!!float" && n.Tag != "!!int" || n.Decode(&x) != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return f.at(n, "%s: %q is no number: write it like 0.5", key, n.Value)
		}
		v.SetFloat(x)
	case reflect.Int:
		var x int32
		if n.Tag != "!!int" || n.Decode(&x) != nil {
			return f.at(n, "%s: %q is no whole number", key, n.Value)
		}
		v.SetInt(int64(x))
	}
	return nil
}

func (f *filler) at(n *yaml.Node, format string, args ...any) *Error {
	return at(Source{File: f.file, Line: n.Line}, format, args...)
}

// fieldOf returns the field of s that the key names, also from embedded structs.
func fieldOf(s reflect.Value, key string) (reflect.Value, bool) {
	for i := range s.NumField() {
		field := s.Type().Field(i)
		if field.Anonymous {
			if v, ok := fieldOf(s.Field(i), key); ok {
				return v, true
			}
			continue
		}
		if name := field.Tag.Get("mapstructure"); name != "" && name == key {
			return s.Field(i), true
		}
	}
	return reflect.Value{}, false
}

// leaf returns the value of a dotted key; nil for one that is not given.
func leaf(s reflect.Value, key string) any {
	for part := range strings.SplitSeq(key, ".") {
		field, ok := fieldOf(s, part)
		if !ok {
			return nil
		}
		s = field
	}
	if s.Kind() == reflect.Pointer {
		if s.IsNil() {
			return nil
		}
		s = s.Elem()
	}
	return s.Interface()
}

// wordsOf lists the keys of a struct, dotted under path.
func wordsOf(t reflect.Type, path string) []string {
	var words []string
	for field := range t.Fields() {
		inner := field.Type
		for inner.Kind() == reflect.Slice {
			inner = inner.Elem()
		}
		name := field.Tag.Get("mapstructure")
		switch {
		case field.Anonymous:
			words = append(words, wordsOf(inner, path)...)
		case name == "":
		case inner.Kind() == reflect.Struct:
			words = append(words, wordsOf(inner, path+name+".")...)
		default:
			words = append(words, path+name)
		}
	}
	return words
}

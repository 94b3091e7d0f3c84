package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/spring"
	"evenbeat/devices/quantity"
)

// goSource holds what the source says of types: their comments, those of their fields, and
// the values that a type of text may have.
type goSource struct {
	t        *testing.T
	read     map[string]bool     // by package
	comments map[string]string   // by package.Type or package.Type.Field
	values   map[string][]string // by package.Type
}

func newGoSource(t *testing.T) *goSource {
	return &goSource{t: t, read: map[string]bool{}, comments: map[string]string{}, values: map[string][]string{}}
}

// nameOf names a type as the maps do, once its package was read.
func (s *goSource) nameOf(t reflect.Type) string {
	path := t.PkgPath()
	dir, ours := strings.CutPrefix(path, "evenbeat/")
	if ours && !s.read[path] {
		s.read[path] = true
		s.readDir(filepath.Join("..", "..", filepath.FromSlash(dir)), path)
	}
	return path + "." + t.Name()
}

// readDir reads the files of a package, tests too: what they declare is described there.
func (s *goSource) readDir(dir, path string) {
	names, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		s.t.Fatal(err)
	}
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			s.t.Fatal(err)
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, text, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			s.t.Fatal(err)
		}
		for _, d := range file.Decls {
			if d, ok := d.(*ast.GenDecl); ok {
				s.readDecl(d, path)
			}
		}
	}
}

func (s *goSource) readDecl(d *ast.GenDecl, path string) {
	for _, x := range d.Specs {
		switch x := x.(type) {
		case *ast.TypeSpec:
			name := path + "." + x.Name.Name
			s.comments[name] = x.Doc.Text() + d.Doc.Text()
			if of, ok := x.Type.(*ast.StructType); ok {
				s.readFields(of, name)
			}
		case *ast.ValueSpec:
			of, ok := x.Type.(*ast.Ident)
			if !ok || d.Tok != token.CONST {
				continue
			}
			for _, v := range x.Values {
				if text, ok := v.(*ast.BasicLit); ok && text.Kind == token.STRING {
					value, err := strconv.Unquote(text.Value)
					if err != nil {
						s.t.Fatal(err)
					}
					s.values[path+"."+of.Name] = append(s.values[path+"."+of.Name], value)
				}
			}
		}
	}
}

// readFields takes the comments of fields, those above them before those behind. One above
// a field may speak of the next ones too.
func (s *goSource) readFields(of *ast.StructType, name string) {
	above := ""
	for _, f := range of.Fields.List {
		for _, n := range f.Names {
			switch {
			case f.Doc != nil:
				above = f.Doc.Text()
				s.comments[name+"."+n.Name] = above + f.Comment.Text()
			case f.Comment == nil && regexp.MustCompile(`\b`+n.Name+`\b`).MatchString(above):
				s.comments[name+"."+n.Name] = above
			default:
				s.comments[name+"."+n.Name] = f.Comment.Text()
			}
		}
	}
}

// ofType says what a type is: the first sentence, since the rest is for those who write
// the program.
func (s *goSource) ofType(t reflect.Type) string {
	first, _, _ := strings.Cut(strings.Join(strings.Fields(s.comments[s.nameOf(t)]), " "), ". ")
	return plainly(t.Name(), first)
}

// ofField says what a field of a struct is. It may be one of an embedded struct.
func (s *goSource) ofField(t reflect.Type, f reflect.StructField) string {
	for _, i := range f.Index[:len(f.Index)-1] {
		if t = t.Field(i).Type; t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
	}
	text := plainly(f.Name, s.comments[s.nameOf(t)+"."+f.Name])
	if text == "" {
		of := f.Type
		for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice {
			of = of.Elem()
		}
		switch {
		case of.PkgPath() != "" && !plain[of]:
			text = s.ofType(of) // which says it
		case f.Type.Kind() == reflect.Slice:
			text = usually[strings.TrimSuffix(f.Tag.Get("json"), ",omitempty")]
		}
	}
	for other := range fields(t) {
		if goName.MatchString(other.Name) {
			name, _, _ := strings.Cut(other.Tag.Get("json"), ",")
			text = regexp.MustCompile(`\b`+other.Name+`\b`).ReplaceAllString(text, name)
		}
	}
	return text
}

// valuesOf returns the values that a type of text has names for; nil for any text.
func (s *goSource) valuesOf(t reflect.Type) []string { return s.values[s.nameOf(t)] }

// goName finds a name that no word of a sentence is.
var goName = regexp.MustCompile(`[a-z][A-Z]|[A-Z]{2}`)

// plainly makes of the comment of a Go name what it says to one who reads JSON.
func plainly(name, comment string) string {
	text := strings.Join(strings.Fields(comment), " ")
	text = regexp.MustCompile(`^`+name+` (is|are) `).ReplaceAllString(text, "")
	text = regexp.MustCompile(`^`+name+` (says|tells|sums)\b`).ReplaceAllString(text, "this $1")
	text = regexp.MustCompile(`\bnil\b`).ReplaceAllString(text, "absent")
	if text == "" || strings.HasSuffix(text, "…") {
		return text
	}
	return strings.TrimSuffix(text, ".") + "."
}

// unitEnds are the ends of names that tell a unit, the longest first.
var unitEnds = []struct{ end, unit string }{
	{"s_per_day_per_day", "s/day per day"}, {"s_per_day_per_turn", "s/day for a turn"}, {"s_per_day_per_deg", "s/day for a degree"},
	{"s_per_day_per_k", "s/day per K"}, {"s_per_day", "s/day"}, {"per_hour", "1/h"}, {"_nm", "N·m"}, {"_j", "J"}, {"_pa", "Pa"},
	{"_hours", "h"}, {"_h", "h"}, {"_days", "days"}, {"_ppm", "parts in a million"}, {"_deg", "degrees"}, {"_mm", "mm"}, {"_m2", "m²"}, {"_m", "m"}, {"_s", "s"}, {"_hpa", "hPa"}, {"_pct", "%"}, {"_c", "°C"},
}

// unitOf says the unit that a name in JSON ends with.
func unitOf(name string) string {
	for _, x := range unitEnds {
		if strings.HasSuffix(name, x.end) {
			return "Unit: " + x.unit + "."
		}
	}
	return ""
}

// usually says what a list of sentences is, by its tag, where its field says nothing.
var usually = map[string]string{
	"cautions": "What to heed before power, spring or weight is touched, one sentence each.",
	"next":     "What to do next, one sentence each, the first thing first.",
	"reasons":  "What the answer is and what it rests on, one sentence each.",
	"warnings": "What is amiss or in doubt, one sentence each.",
}

// plain are the types that say nothing of what a field of theirs is.
var plain = map[reflect.Type]bool{
	reflect.TypeFor[quantity.Value](): true, reflect.TypeFor[spring.Estimate](): true, reflect.TypeFor[time.Time](): true,
}

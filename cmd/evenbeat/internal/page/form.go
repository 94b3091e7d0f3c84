package page

import (
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"evenbeat/devices/quantity"
)

// form is what a browser posted, and what is wrong with it. The zero value is a form
// that nobody has filled in.
type form struct {
	values url.Values
	faults map[string]string // by the field's name
}

// readForm reads the form of a request, whose body the guard has bounded and read.
func readForm(r *http.Request) (form, error) {
	if err := r.ParseForm(); err != nil {
		return form{}, refuse(http.StatusBadRequest, "What was sent is not a form.")
	}
	return form{values: r.PostForm, faults: map[string]string{}}, nil
}

// Text returns what was typed into a field, without blanks at its ends.
func (f form) Text(name string) string { return strings.TrimSpace(f.values.Get(name)) }

// Fault notes what is wrong with a field; nil is nothing.
func (f form) Fault(name string, err error) {
	if err == nil {
		return
	}
	words := err.Error()
	if e, ok := errors.AsType[*quantity.InputError](err); ok {
		words = e.Why
	}
	f.faults[name] = words
}

// Bad reports whether something is wrong with the form.
func (f form) Bad() bool { return len(f.faults) > 0 }

// Wrong is what is wrong with the form, by the field's name.
func (f form) Wrong() map[string]string { return f.faults }

// Faults are what is wrong with the form, in the order of the fields' names.
func (f form) Faults() []string {
	var all []string
	for _, name := range slices.Sorted(maps.Keys(f.faults)) {
		all = append(all, f.faults[name])
	}
	return all
}

// field is a field of a form, for the template "field".
type field struct {
	Name, Label, Hint string
	Type              string // of the input element
	Value, Fault      string
}

// fieldOf makes a field from the form that was posted.
func fieldOf(f form, kind, name, label, hint string) field {
	return field{Name: name, Label: label, Hint: hint, Type: kind, Value: f.values.Get(name), Fault: f.faults[name]}
}

package configs

import "fmt"

// Error is a setting, profile or plan that can't be accepted, and that the caller can
// correct.
type Error struct {
	// Where is the file and line, or the environment variable; empty for what was named in
	// a call.
	Where string
	// Problem names the thing, its value and the remedy.
	Problem string
	Err     error // the system's own error, if there is one
}

// Error returns the one line to show.
func (e *Error) Error() string {
	s := e.Problem
	if e.Where != "" {
		s = e.Where + ": " + s
	}
	if e.Err != nil {
		s += ": " + e.Err.Error()
	}
	return s
}

// Unwrap returns the system's own error.
func (e *Error) Unwrap() error { return e.Err }

func at(where Source, format string, args ...any) *Error {
	return &Error{Where: where.String(), Problem: fmt.Sprintf(format, args...)}
}

// fromFlag is the source of values given by flags.
const fromFlag = "flag"

// Source is where a value came from.
type Source struct {
	File string // settings file, with Line
	Line int
	Name string // environment variable, or fromFlag
}

// String returns "default", "/home/a/config.yaml:3", "EVENBEAT_UNITS" or "flag".
func (s Source) String() string {
	switch {
	case s.File != "" && s.Line > 0:
		return fmt.Sprintf("%s:%d", s.File, s.Line)
	case s.File != "":
		return s.File
	case s.Name != "":
		return s.Name
	}
	return "default"
}

// MarshalText writes the source as String does, for JSON.
func (s Source) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

package render

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"sync"
	"time"
)

// Schema counts the forms that JSON has had. It goes up when a name goes away or comes to
// mean something else; a new name leaves it as it is.
const Schema = 1

// Made says of findings in JSON whose they are and what made them.
type Made struct {
	Clock   string    `json:"clock,omitempty"` // name of the clock that is meant, if one is
	At      time.Time `json:"at"`              // when this was written
	Version string    `json:"version"`         // of the program
	Schema  int       `json:"schema"`          // number of the form; it goes up when a name goes away or changes its meaning
}

// Lines returns what writes a line of JSON, of a clock or of none. Only the first carries
// who made it: lines come as fast as an instrument sends.
func Lines(w io.Writer, made func(clock string) Made) func(clock string, v any) error {
	var first sync.Once
	return func(clock string, v any) error {
		text, err := compact(v)
		first.Do(func() {
			if err == nil {
				text, err = signed(text, made(clock))
			}
		})
		if err != nil {
			return err
		}
		_, err = w.Write(append(text, '\n'))
		return err
	}
}

// JSON writes v and who made it as one indented JSON object. v must be an object that
// has none of the names of Made.
func JSON(w io.Writer, made Made, v any) error {
	text, err := compact(v)
	if err == nil {
		text, err = signed(text, made)
	}
	if err != nil {
		return err
	}
	var lines bytes.Buffer
	if err := json.Indent(&lines, text, "", "  "); err != nil {
		return err
	}
	lines.WriteByte('\n')
	_, err = lines.WriteTo(w)
	return err
}

// signed adds to an object who made it.
func signed(object []byte, made Made) ([]byte, error) {
	made.At, made.Schema = made.At.UTC().Truncate(time.Millisecond), Schema
	about, err := compact(made)
	if err != nil {
		return nil, err
	}
	body, ok := bytes.CutSuffix(object, []byte("}"))
	if !ok {
		return nil, fmt.Errorf("findings are no JSON object: %.40s", object)
	}
	if len(body) > len("{") {
		body = append(body, ',')
	}
	return append(body, about[len("{"):]...), nil
}

// compact writes v on one line, and marks such as < as they are.
func compact(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimRight(b.Bytes(), "\n"), err
}

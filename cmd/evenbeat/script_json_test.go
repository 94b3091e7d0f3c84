package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// sameJSON compares two files of JSON but for when they were made and by which version.
func sameJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: [!] samejson FILE FILE")
	}
	var all [2][]map[string]any
	for i, name := range args {
		objects, err := readObjectsOf(ts.ReadFile(name))
		if err != nil {
			ts.Fatalf("%s: %v", name, err)
		}
		for _, o := range objects {
			delete(o, "at")
			delete(o, "version")
		}
		all[i] = objects
	}
	if same := reflect.DeepEqual(all[0], all[1]); same == neg {
		ts.Fatalf("%s and %s: same %t, want %t", args[0], args[1], same, !neg)
	}
}

// readObjectsOf reads JSON objects that follow one another.
func readObjectsOf(text string) (all []map[string]any, err error) {
	for d := json.NewDecoder(strings.NewReader(text)); ; {
		var o map[string]any
		if err := d.Decode(&o); errors.Is(err, io.EOF) {
			return all, nil
		} else if err != nil {
			return nil, err
		}
		all = append(all, o)
	}
}

// describedFile holds a file of JSON against the schema of the command that wrote it.
func describedFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: described COMMAND FILE")
	}
	ts.Check(asDescribed(args[:1], []byte(ts.ReadFile(args[1]))))
}

// notAsDescribedVar names the file that tells a test of answers in JSON that are not as their
// schema says. The exit status alone doesn't: a script may expect that the call fails.
const notAsDescribedVar = "TEST_NOT_AS_DESCRIBED"

// mustBeDescribed ends the program where an answer in JSON is not as the schema of its
// command says. A command that has none may answer nothing.
func mustBeDescribed(args []string, answer []byte) {
	err := asDescribed(args, answer)
	if err == nil {
		return
	}
	told := fmt.Sprintf("evenbeat %s: %v\n", strings.Join(args, " "), err)
	if name := os.Getenv(notAsDescribedVar); name != "" {
		if f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o666); err == nil {
			_, _ = f.WriteString(told) // the status tells too
			_ = f.Close()
		}
	}
	fmt.Fprint(os.Stderr, told)
	os.Exit(3)
}

// asDescribed holds each JSON object of an answer against the schema of the command.
func asDescribed(args []string, answer []byte) error {
	if len(answer) == 0 {
		return nil
	}
	c, _, err := newRoot(&app{}).Find(args)
	if err != nil {
		return err
	}
	text, err := schemaFiles.ReadFile(schemaFile(strings.TrimPrefix(c.CommandPath(), "evenbeat ")))
	if err != nil {
		return err
	}
	described, err := compile(text)
	if err != nil {
		return err
	}
	for d := json.NewDecoder(bytes.NewReader(answer)); ; {
		var whole json.RawMessage
		if err := d.Decode(&whole); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(whole))
		if err != nil {
			return err
		}
		if err := described.Validate(v); err != nil {
			return err
		}
	}
}

// Each answer that is described is asked for by a script, and so held against its schema.
func TestScriptsAskForEveryAnswer(t *testing.T) {
	names, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	var all []byte
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, text...)
	}
	for _, command := range described() {
		if asked := regexp.MustCompile(`(?m)^(exec|start \S+) evenbeat ` + command + ` (.* )?--(json|out \S+\.json)\b`); !asked.Match(all) {
			t.Errorf("no script asks for %s --json", command)
		}
	}
}

// compile reads a schema. That a text is a time is held too.
func compile(text []byte) (*jsonschema.Schema, error) {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("answer.json", doc); err != nil {
		return nil, err
	}
	return c.Compile("answer.json")
}

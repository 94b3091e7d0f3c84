package main

import (
	"encoding/json"
	"errors"
	"io"
	"reflect"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
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

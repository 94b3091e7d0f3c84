package main

import (
	"fmt"
	"io/fs"
	"syscall"
	"testing"
)

func TestReaderLeft(t *testing.T) {
	written := func(path string, no syscall.Errno) error {
		return fmt.Errorf("the going: %w", &fs.PathError{Op: "write", Path: path, Err: no})
	}
	for _, test := range []struct {
		system string
		err    error
		want   bool
	}{
		{"windows", written("/dev/stdout", 232), true},
		{"windows", written("/dev/stdout", 109), true},
		{"windows", written("/dev/stdout", 112), false}, // the disk is full
		{"windows", written("sheet.html", 232), false},
		{"linux", written("/dev/stdout", 109), false}, // another error there
		{"windows", fs.ErrClosed, false},
	} {
		if got := readerLeft(test.system, test.err); got != test.want {
			t.Errorf("%s, %v: got %t", test.system, test.err, got)
		}
	}
}

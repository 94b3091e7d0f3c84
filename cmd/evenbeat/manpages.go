//go:build manpages

// With the tag manpages this package is another program, which writes evenbeat's manual
// pages into a folder:
//
//	SOURCE_DATE_EPOCH=SECONDS go run -tags manpages ./cmd/evenbeat DIR
//
// SOURCE_DATE_EPOCH dates them, so that a release is the same bytes each time.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra/doc"
)

func main() {
	if err := writeManual(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(statusFailed)
	}
}

// writeManual writes a page for each command.
func writeManual() error {
	if len(os.Args) != 2 || os.Getenv("SOURCE_DATE_EPOCH") == "" {
		return errors.New("usage: SOURCE_DATE_EPOCH=SECONDS go run -tags manpages ./cmd/evenbeat DIR")
	}
	root := newRoot(&app{out: io.Discard, err: io.Discard})
	root.DisableAutoGenTag = true
	return doc.GenManTree(root, &doc.GenManHeader{Section: "1", Source: "Evenbeat", Manual: "Evenbeat"}, os.Args[1])
}

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
	"path/filepath"
	"strings"

	"github.com/cpuguy83/go-md2man/v2/md2man"
	"github.com/spf13/cobra/doc"

	"evenbeat/configs"
)

func main() {
	if err := writeManual(); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(statusFailed)
	}
}

// writeManual writes a page for each command, and one for each topic of help.
func writeManual() error {
	if len(os.Args) != 2 || os.Getenv("SOURCE_DATE_EPOCH") == "" {
		return errors.New("usage: SOURCE_DATE_EPOCH=SECONDS go run -tags manpages ./cmd/evenbeat DIR")
	}
	root := newRoot(&app{out: io.Discard, err: io.Discard})
	root.DisableAutoGenTag = true
	header := &doc.GenManHeader{Section: "1", Source: "Evenbeat", Manual: "Evenbeat"}
	if err := doc.GenManTree(root, header, os.Args[1]); err != nil {
		return err
	}
	for _, t := range configs.Topics() {
		page := fmt.Sprintf("%% \"EVENBEAT-%s\" \"7\" \"\" \"Evenbeat\" \"Evenbeat\"\n# NAME\nevenbeat-%s - %s\n\n# DESCRIPTION\n%s\n# SEE ALSO\n**evenbeat(1)**\n",
			strings.ToUpper(t.Name), t.Name, t.Title, manText(t.Text))
		if err := os.WriteFile(filepath.Join(os.Args[1], "evenbeat-"+t.Name+".7"), md2man.Render([]byte(page)), 0o644); err != nil {
			return err
		}
	}
	return nil
}

// manText is what stands in a topic beneath its title. A heading there is one of the page.
func manText(topic string) string {
	var b strings.Builder
	for line := range strings.Lines(topic) {
		if !strings.HasPrefix(line, "# ") && !strings.HasPrefix(line, "<!--") {
			b.WriteString(strings.TrimPrefix(line, "#"))
		}
	}
	return b.String()
}

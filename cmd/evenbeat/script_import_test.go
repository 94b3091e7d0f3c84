package main

import (
	"os"
	"strings"
	"unicode/utf16"

	"github.com/rogpeppe/go-internal/testscript"
)

// rewritten is the script command
//
//	rewritten NEW FILE mark|tabs|cr|crlf|utf16
//
// which writes a table of commas and LF as another program would: with a byte order
// mark, with tabs, with lines that end in CR or CRLF, or in UTF-16.
func rewritten(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: rewritten NEW FILE HOW")
	}
	text := ts.ReadFile(args[1])
	switch args[2] {
	case "mark":
		text = "\ufeff" + text
	case "tabs":
		text = strings.ReplaceAll(text, ",", "\t")
	case "cr":
		text = strings.ReplaceAll(text, "\n", "\r")
	case "crlf":
		text = strings.ReplaceAll(text, "\n", "\r\n")
	case "utf16":
		bytes := []byte{0xff, 0xfe}
		for _, x := range utf16.Encode([]rune(text)) {
			bytes = append(bytes, byte(x), byte(x>>8))
		}
		text = string(bytes)
	default:
		ts.Fatalf("%s is no way to write a table", args[2])
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}

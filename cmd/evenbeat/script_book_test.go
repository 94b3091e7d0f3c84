package main

import (
	"os"
	"strconv"

	"github.com/ncruces/go-sqlite3"
	"github.com/rogpeppe/go-internal/testscript"
)

// bookCommands are the script commands that do to a book what other programs and
// mishaps do:
//
//	cut FILE BYTES   keeps the first BYTES of a file
//	sql FILE SQL     runs a statement on a database
//	hold FILE        keeps a database locked until the script ends
func bookCommands() map[string]func(*testscript.TestScript, bool, []string) {
	return map[string]func(*testscript.TestScript, bool, []string){"cut": cutFile, "sql": runSQL, "hold": holdBook}
}

func cutFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: cut FILE BYTES")
	}
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(ts.MkAbs(args[0]), n))
}

func runSQL(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: sql FILE SQL")
	}
	c, err := sqlite3.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(c.Exec(args[1]))
	ts.Check(c.Close())
}

func holdBook(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: hold FILE")
	}
	c, err := sqlite3.Open(ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(c.Exec("BEGIN IMMEDIATE"))
	ts.Defer(func() {
		if err := c.Close(); err != nil {
			ts.Logf("%s: %v", args[0], err)
		}
	})
}

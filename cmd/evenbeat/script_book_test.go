package main

import (
	"errors"
	"os"
	"regexp"
	"strconv"
	"strings"

	"github.com/ncruces/go-sqlite3"
	"github.com/rogpeppe/go-internal/testscript"
)

// bookCommands are the script commands that do to a book what other programs and
// mishaps do:
//
//	cut FILE BYTES   keeps the first BYTES of a file
//	turn FILE TABLE  turns one bit in the first page of a table
//	sql FILE SQL     runs a statement on a database
//	hold FILE        keeps a database locked until the script ends
//
// And one compares them:
//
//	samesheet A B    holds two files of a sheet against each other, but for when they were made
//	samefigures A B  holds all findings and the record of two books against each other
func bookCommands() map[string]func(*testscript.TestScript, bool, []string) {
	return map[string]func(*testscript.TestScript, bool, []string){"cut": cutFile, "turn": turnBit, "sql": runSQL, "hold": holdBook, "samefigures": sameFigures, "samesheet": sameSheet}
}

func cutFile(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: cut FILE BYTES")
	}
	n, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	ts.Check(os.Truncate(ts.MkAbs(args[0]), n))
}

func turnBit(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: turn FILE TABLE")
	}
	path := ts.MkAbs(args[0])
	c, err := sqlite3.Open(path)
	ts.Check(err)
	stmt, _, err := c.Prepare("SELECT rootpage FROM sqlite_schema WHERE name = '" + args[1] + "'")
	ts.Check(err)
	if !stmt.Step() {
		ts.Fatalf("no table %s: %v", args[1], stmt.Err())
	}
	page := stmt.ColumnInt64(0)
	ts.Check(errors.Join(stmt.Close(), c.Close()))
	data, err := os.ReadFile(path)
	ts.Check(err)
	data[page*4096-20] ^= 4
	ts.Check(os.WriteFile(path, data, 0o600))
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

// findingsOfDemo are the commands that tell all of a clock of the demo.
var findingsOfDemo = []string{"spring --full --json", "fit --json", "rate --full --json", "stability --session 3 --json", "going --full --json", "clock show --json",
	"record sessions --json", "record readings --json", "record checks --json", "record notes --json", "record air --json", "inspect --json", "sheet --out /dev/stdout", "sheet --customer --out /dev/stdout"}

// writtenAt is when a finding was written.
var writtenAt = regexp.MustCompile(`"at":"[^"]*"|(?m)^  "at": ".*",?$|<p class="made">Made [^<]* by`)

func sameFigures(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: samefigures A B")
	}
	for _, line := range findingsOfDemo {
		var told [2]string
		for i, book := range args {
			err := ts.Exec("evenbeat", append(strings.Fields(line), "--book", book)...)
			if err != nil {
				ts.Fatalf("%s, %s: %v", line, book, err)
			}
			told[i] = writtenAt.ReplaceAllString(ts.ReadFile("stdout"), "")
		}
		if len(told[0]) < 10 || told[0] != told[1] {
			ts.Fatalf("%s says of %s\n%s\nand of %s\n%s", line, args[0], told[0], args[1], told[1])
		}
	}
}

func sameSheet(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: samesheet A B")
	}
	a, b := writtenAt.ReplaceAllString(ts.ReadFile(args[0]), ""), writtenAt.ReplaceAllString(ts.ReadFile(args[1]), "")
	if a != b {
		ts.Fatalf("%s is\n%s\nand %s\n%s", args[0], a, args[1], b)
	}
}

package main

import (
	"io"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// TestHelp walks all commands: each says what it does, and has an example that the
// program would take for a call of that very command, flags and all.
func TestHelp(t *testing.T) {
	commands := 0
	var walk func(*cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			if sub.Name() != "help" && sub.Name() != "completion" {
				walk(sub)
			}
		}
		commands++
		t.Run(strings.ReplaceAll(c.CommandPath(), " ", "_"), func(t *testing.T) {
			if c.Short == "" {
				t.Error("no word on what it does")
			}
			if c.Example == "" {
				t.Fatal("no example")
			}
			own := 0
			for line := range strings.Lines(c.Example) {
				if strings.HasPrefix(parsed(t, strings.TrimSpace(line)), c.CommandPath()) {
					own++
				}
			}
			if own == 0 {
				t.Error("no line of the example calls it")
			}
		})
	}
	walk(newRoot(&app{out: io.Discard, err: io.Discard}))
	if commands < 30 {
		t.Errorf("%d commands were looked at, there are more", commands)
	}
}

// parsed reads an example as the program would, without running it, and returns the
// command that it calls.
func parsed(t *testing.T, line string) string {
	words := split(line)
	if len(words) == 0 || words[0] != "evenbeat" {
		t.Errorf("%q is no call of evenbeat", line)
		return ""
	}
	root := newRoot(&app{out: io.Discard, err: io.Discard})
	found, rest, err := root.Find(words[1:])
	if err != nil {
		t.Errorf("%q: %v", line, err)
		return ""
	}
	if err := found.ParseFlags(rest); err != nil {
		t.Errorf("%q: %v", line, err)
	} else if err := found.ValidateArgs(found.Flags().Args()); err != nil {
		t.Errorf("%q: %v", line, err)
	}
	return found.CommandPath()
}

// split cuts a line into words as a shell does with double quotes.
func split(line string) []string {
	var words []string
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			words = append(words, part)
		} else {
			words = append(words, strings.Fields(part)...)
		}
	}
	return words
}

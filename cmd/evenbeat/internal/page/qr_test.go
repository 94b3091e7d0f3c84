package page

import (
	"strings"
	"testing"
	"unicode/utf8"

	"rsc.io/qr"
)

// The code in the terminal has each module of the code it shows, black on white, and four
// white ones around.
func TestCode(t *testing.T) {
	t.Parallel()
	const link = "http://192.168.1.20:7230/?token=AAAABBBBCCCCDDDDEEEEFFFFGG"
	text, err := Code(link)
	if err != nil {
		t.Fatal(err)
	}
	want, err := qr.Encode(link, qr.M)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if n := want.Size + 2*quietModules; len(lines) != (n+1)/2 {
		t.Fatalf("%d lines of half blocks for %d modules", len(lines), n)
	}
	blocks := map[rune][2]bool{' ': {false, false}, '▀': {true, false}, '▄': {false, true}, '█': {true, true}}
	for i, line := range lines {
		line, ok := strings.CutPrefix(line, "\x1b[38;2;0;0;0;48;2;255;255;255m")
		line, ends := strings.CutSuffix(line, "\x1b[0m")
		if !ok || !ends || utf8.RuneCountInString(line) != want.Size+2*quietModules {
			t.Fatalf("line %q", line)
		}
		x := -quietModules
		for _, r := range line {
			for half, black := range blocks[r] {
				if y := 2*i + half - quietModules; black != want.Black(x, y) {
					t.Errorf("module %d, %d is black: %v", x, y, black)
				}
			}
			x++
		}
	}
	if _, err := Code(strings.Repeat("x", 4000)); err == nil {
		t.Error("no code holds 4000 bytes")
	}
}

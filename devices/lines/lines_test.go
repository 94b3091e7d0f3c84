package lines_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/lines"
)

// heard returns what comes out of chunks, faults with their kind before the text.
func heard(chunks ...devices.Chunk) []string {
	f := lines.NewDecoder(func(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
		return append(dst, devices.Said{Kind: devices.KindReading, At: at, Text: string(line)})
	})
	var said []devices.Said
	for _, c := range chunks {
		said = f.Decode(said, c)
	}
	var out []string
	for _, s := range f.Flush(said) {
		out = append(out, strings.TrimSpace(string(s.Fault)+" "+s.Text))
	}
	return out
}

func text(s string) devices.Chunk { return devices.Chunk{Bytes: []byte(s)} }

func TestLines(t *testing.T) {
	back := devices.Chunk{Fault: devices.FaultReplugged, Text: "away 1 s", At: devices.Stamp{Mono: 5e9}}
	soon, later := text("8mm\r63mm\r"), text("8mm\r63mm\r")
	soon.At.Mono, later.At.Mono = 5.001e9, 5.003e9
	long := strings.Repeat("x", lines.Max)
	for _, c := range []struct {
		name string
		in   []devices.Chunk
		want []string
	}{
		{"all three ends", []devices.Chunk{text("a\nb\rc\r\nd\n\r\n")}, []string{"a", "b", "c", "d"}},
		{"broken off", []devices.Chunk{text("a\nbc")}, []string{"a", `garbage "bc": broken off`}},
		{"longest", []devices.Chunk{text(long + "\nb\n")}, []string{long, "b"}},
		{"too long", []devices.Chunk{text(long + "yz\nb\n")}, []string{`too long "` + long + `"`, `too long "yz"`, "b"}},
		{"unplugged in a line", []devices.Chunk{text("a\nb"), {Fault: devices.FaultUnplugged, Text: "gone"}, text("c\n")},
			[]string{"a", `garbage "b": broken off`, "unplugged gone", `lost "c": its start may have been lost with the port`}},
		{"cut by the replug", []devices.Chunk{back, soon},
			[]string{"replugged away 1 s", `lost "8mm": its start may have been lost with the port`, "63mm"}},
		{"whole after the replug", []devices.Chunk{back, later}, []string{"replugged away 1 s", "8mm", "63mm"}},
		{"clock step within a line", []devices.Chunk{text("a"), {Fault: devices.FaultClockStep, Text: "+2 s"}, text("b\n")},
			[]string{"clock step +2 s", "ab"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := heard(c.in...); !slices.Equal(got, c.want) {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestStampIsOfTheFirstByte(t *testing.T) {
	var at []int64
	d := lines.NewDecoder(func(dst []devices.Said, _ []byte, s devices.Stamp) []devices.Said {
		at = append(at, s.Mono)
		return dst
	})
	for i, s := range []string{"\r\n6", "3\r", "\n", "7\n8", "\n"} {
		d.Decode(nil, devices.Chunk{Bytes: []byte(s), At: devices.Stamp{Mono: int64(i)}})
	}
	if want := []int64{0, 3, 3}; !slices.Equal(at, want) {
		t.Errorf("stamps %v, want %v", at, want)
	}
}

func TestUnquoteGivesTheBytesBack(t *testing.T) {
	raw := []byte("63\x00\xff\"mm: \\")
	f := lines.Fault(devices.Stamp{}, devices.FaultGarbage, raw, `why "not"`)
	if got, ok := lines.Unquote(f.Text); !ok || !bytes.Equal(got, raw) {
		t.Errorf("got %q, %v from %s", got, ok, f.Text)
	}
	if _, ok := lines.Unquote("no bytes here"); ok {
		t.Error("found bytes in a fault that has none")
	}
}

func TestIdentifier(t *testing.T) {
	unit := func(s string) bool { return s == "in" }
	for _, c := range []struct{ in, word, rest string }{
		{"01A +63.48", "01A", "+63.48"},
		{"1 63.48mm", "1", "63.48mm"},
		{"A\t5", "A", "5"},
		{"63 48mm", "", "63 48mm"}, // a point may have become a blank
		{"in 2.5", "", "in 2.5"},
		{"63.48 mm", "", "63.48 mm"},
		{"A ", "", "A "},
		{" A", "", " A"},
	} {
		if word, rest, ok := lines.Identifier(c.in, unit); word != c.word || rest != c.rest || ok != (c.word != "") {
			t.Errorf("%q: got %q, %q, %v", c.in, word, rest, ok)
		}
	}
}

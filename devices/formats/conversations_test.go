package formats_test

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"evenbeat/devices"
	"evenbeat/devices/capture"
	"evenbeat/devices/formats"
	"evenbeat/devices/quantity"
)

var update = flag.Bool("update", false, "write anew what the conversations say")

// describe writes one thing said on a line.
func describe(s devices.Said) string {
	at := "+" + time.Duration(s.At.Mono).String() + " "
	switch s.Kind {
	case devices.KindReading:
		return fmt.Sprintf("%sreading %.12g step %.6g dimension %d unit %q text %q", at, s.Reading.Value, s.Reading.Step, s.Reading.Dim, s.Reading.Unit, s.Text)
	case devices.KindBeat:
		return fmt.Sprintf("%sbeat count %d %v edge %d %v sequence %d %v", at, s.Beat.Count, s.Beat.HasCount, s.Beat.Edge, s.Beat.HasEdge, s.Beat.Seq, s.Beat.HasSeq)
	case devices.KindAir:
		return fmt.Sprintf("%sair %.6g C %v, %.6g hPa %v, %.6g %% %v text %q", at, s.Air.TemperatureC, s.Air.HasTemperature, s.Air.PressureHPa, s.Air.HasPressure, s.Air.HumidityPct, s.Air.HasHumidity, s.Text)
	case devices.KindTime:
		by := ""
		if s.Time.ByPulse {
			by = "by pulse "
		}
		return fmt.Sprintf("%stime %d known %v of day %v valid %v %stext %q", at, s.Time.Nanos, s.Time.Has, s.Time.OfDay, s.Time.Valid, by, s.Text)
	case devices.KindFault:
		return fmt.Sprintf("%sfault %s: %s", at, s.Fault, s.Text)
	}
	return fmt.Sprintf("%skind %d", at, s.Kind)
}

// conversation is a capture under testdata/conversations/FORMAT, and what it says
// in the .want file beside it.
type conversation struct {
	file   string
	unit   quantity.Unit // for lengths that come without one
	chunks []devices.Chunk
}

// conversations returns those of a format, of which there is one at least. A new
// capture needs no change here.
func conversations(t testing.TB, f devices.Format) (all []conversation) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "conversations", f.Name, "*.txt"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%s has no conversation, %v", f.Name, err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		c := conversation{file: file}
		if strings.Contains(string(text), "# unit mm") {
			c.unit = quantity.Millimetre
		}
		for r := capture.NewReader(bytes.NewReader(text)); ; {
			chunk, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", file, err)
			}
			c.chunks = append(c.chunks, chunk)
		}
		all = append(all, c)
	}
	return all
}

// bytes returns all bytes of the conversation.
func (c conversation) bytes() (b []byte) {
	for _, chunk := range c.chunks {
		b = append(b, chunk.Bytes...)
	}
	return b
}

// decode returns what the chunks say.
func decode(f devices.Format, unit quantity.Unit, chunks ...devices.Chunk) (said []devices.Said) {
	d := f.New(unit)
	for _, c := range chunks {
		said = d.Decode(said, c)
	}
	return d.Flush(said)
}

// A beat's count tells its time only if it is known how fast it counts.
func TestCountsHaveARate(t *testing.T) {
	for _, f := range formats.All() {
		for _, c := range conversations(t, f) {
			for _, s := range decode(f, c.unit, c.chunks...) {
				if s.Beat.HasCount != (f.CountRate > 0 && f.CountBits > 0) && s.Kind == devices.KindBeat {
					t.Fatalf("%s: %s, but the format counts %g a second in %d bits", c.file, describe(s), f.CountRate, f.CountBits)
				}
			}
		}
	}
}

// TestConversations holds every capture against the .want file beside it.
func TestConversations(t *testing.T) {
	for _, f := range formats.All() {
		for _, c := range conversations(t, f) {
			t.Run(f.Name+"/"+filepath.Base(c.file), func(t *testing.T) {
				var got strings.Builder
				for _, s := range decode(f, c.unit, c.chunks...) {
					got.WriteString(describe(s) + "\n")
				}
				wantFile := strings.TrimSuffix(c.file, ".txt") + ".want"
				if *update {
					if err := os.WriteFile(wantFile, []byte(got.String()), 0o644); err != nil {
						t.Fatal(err)
					}
				}
				want, err := os.ReadFile(wantFile)
				if err != nil {
					t.Fatal(err)
				}
				if got.String() != string(want) {
					t.Errorf("got\n%s\nwant\n%s", got.String(), want)
				}
			})
		}
	}
}

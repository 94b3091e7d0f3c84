package formats_test

import (
	"context"
	"flag"
	"fmt"
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

// hear plays a capture to a decoder.
func hear(ctx context.Context, d devices.Decoder, capt string) ([]devices.Said, error) {
	var said []devices.Said
	err := capture.NewPlayback(strings.NewReader(capt)).Run(ctx, func(c devices.Chunk) error {
		said = d.Decode(said, c)
		return nil
	})
	return d.Flush(said), err
}

// TestConversations holds every capture under testdata/conversations/FORMAT
// against the .want file beside it. A new capture needs no change here.
func TestConversations(t *testing.T) {
	root := filepath.Join("..", "..", "testdata", "conversations")
	for _, name := range formats.Names() {
		files, err := filepath.Glob(filepath.Join(root, name, "*.txt"))
		if err != nil || len(files) == 0 {
			t.Errorf("%s has no conversation, %v", name, err)
		}
		for _, file := range files {
			t.Run(name+"/"+filepath.Base(file), func(t *testing.T) {
				conversation(t, name, file)
			})
		}
	}
}

func conversation(t *testing.T, format, file string) {
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	o := formats.Options{}
	if strings.Contains(string(text), "# unit mm") {
		o.Unit = quantity.Millimetre
	}
	d, err := formats.New(format, o)
	if err != nil {
		t.Fatal(err)
	}
	said, err := hear(t.Context(), d, string(text))
	if err != nil {
		t.Fatal(err)
	}
	var got strings.Builder
	for _, s := range said {
		got.WriteString(describe(s) + "\n")
	}
	wantFile := strings.TrimSuffix(file, ".txt") + ".want"
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
}

package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"runtime/debug"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices"
)

func TestIdentify(t *testing.T) {
	built := &debug.BuildInfo{Settings: []debug.BuildSetting{
		{Key: "GOARM", Value: "6,hardfloat"}, {Key: "vcs.revision", Value: "0123456789abcdef"},
		{Key: "vcs.time", Value: "2026-03-01T07:00:00Z"}, {Key: "vcs.modified", Value: "true"},
	}}
	built.Main.Version = "v0.0.0-20260301070000-0123456789ab+dirty"
	id := identify(built)
	if id.Version != built.Main.Version || id.Commit != "0123456789abcdef" || id.Date != "2026-03-01T07:00:00Z" ||
		id.Dirty == nil || !*id.Dirty || !strings.HasSuffix(id.System, "v6") || id.Layout < 7 {
		t.Errorf("got %+v", id)
	}
	var text strings.Builder
	if err := id.write(&text); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"evenbeat v0.0.0-2026", "0123456789abcdef, and changes that are not committed", "2026-03-01T07:00:00Z"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is not in\n%s", want, text.String())
		}
	}
	for _, none := range []*debug.BuildInfo{nil, {Main: debug.Module{Version: "(devel)"}}} {
		if id := identify(none); id.Version != unknownVersion || id.Commit != "" || id.Dirty != nil {
			t.Errorf("without a source's history: got %+v", id)
		}
	}
}

// TestVersionSaid asks the program while its settings can't be read.
func TestVersionSaid(t *testing.T) {
	var said identity
	var out bytes.Buffer
	if status := run(t.Context(), []string{"version", "--json", "--config", "none.yaml"}, nil, nil, &out, io.Discard); status != statusDone {
		t.Fatalf("status %d: a settings file that is missing keeps the version away", status)
	}
	if err := json.Unmarshal(out.Bytes(), &said); err != nil {
		t.Fatal(err)
	}
	if want := self(); said.Version != want.Version || said.Go != want.Go || said.Layout != want.Layout {
		t.Errorf("got %+v, want %+v", said, want)
	}
}

// faulty is a decoder with a fault.
type faulty struct{}

func (faulty) Decode([]devices.Said, devices.Chunk) []devices.Said { panic("seven leaves") }
func (faulty) Flush([]devices.Said) []devices.Said                 { return nil }

// oneChunk is an instrument that says one thing.
type oneChunk struct{}

func (oneChunk) Run(_ context.Context, each func(devices.Chunk) error) error {
	return each(devices.Chunk{Bytes: []byte("x")})
}

// TestFault shows that a panic, in a command or in what listens to an instrument, ends
// with a status of its own and asks for what is needed to mend it.
func TestFault(t *testing.T) {
	for name, do := range map[string]func() error{
		"command":  func() error { panic("seven leaves") },
		"listener": func() error { return live.Listen(t.Context(), oneChunk{}, faulty{}, nil) },
	} {
		t.Run(name, func(t *testing.T) {
			var errs bytes.Buffer
			a := &app{err: &errs}
			err := execute(t.Context(), &cobra.Command{Use: "x", Args: cobra.NoArgs, SilenceErrors: true, SilenceUsage: true,
				RunE: func(*cobra.Command, []string) error { return do() }})
			if status := a.fail(err); status != statusFault {
				t.Errorf("status %d, want %d", status, statusFault)
			}
			lines := strings.Split(strings.TrimSpace(errs.String()), "\n")
			last := lines[len(lines)-1]
			for _, want := range []string{"evenbeat: a fault of the program", "version " + version(), "seven leaves", "evenbeat capture"} {
				if !strings.Contains(last, want) {
					t.Errorf("%q is not in the last line, %q", want, last)
				}
			}
			if !strings.Contains(errs.String(), "version_test.go") {
				t.Error("it doesn't say where it was")
			}
		})
	}
}

// TestUncaught has a panic that nobody catches: its status is not the caller's.
func TestUncaught(t *testing.T) {
	if os.Getenv("EVENBEAT_UNCAUGHT") != "" {
		tellPanics()
		go panic("seven leaves")
		select {}
	}
	c := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestUncaught$")
	c.Env = append(os.Environ(), "EVENBEAT_UNCAUGHT=1")
	out, err := c.CombinedOutput()
	if code := c.ProcessState.ExitCode(); err == nil || code == statusBadCall || code == statusFailed || code == statusDone {
		t.Errorf("status %d (%v)", code, err)
	}
	if !strings.Contains(string(out), "seven leaves") {
		t.Errorf("it doesn't say why:\n%s", out)
	}
}

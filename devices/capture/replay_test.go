//go:build unix

package capture_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/capture"
	"evenbeat/devices/port"
)

// What a port hears of a replay is what the capture holds, plugs pulled and all.
func TestReplayIntoAPort(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	const played = `@+0 2026-03-01T12:00:00Z
+0 "63.48mm\r\n"
+3600 "63.5"
+3600 "0mm\r\n"
+7200 !unplugged "pulled"
+7201 !replugged "back"
+7300 "64mm\r\n"
`
	names := make(chan string, 2)
	replayed := make(chan error, 1)
	r := capture.Replay{Announce: func(name string) error { names <- name; return nil }}
	go func() { replayed <- r.Run(ctx, strings.NewReader(played)) }()
	var got strings.Builder
	done := errors.New("heard all")
	for n := range 2 {
		p, err := port.Open(<-names, port.Options{})
		if err != nil {
			t.Fatal(err)
		}
		err = p.Run(ctx, func(c devices.Chunk) error {
			got.Write(c.Bytes)
			if strings.Contains(got.String(), "64mm\r\n") {
				return done
			}
			return nil
		})
		if gone, ok := errors.AsType[*port.Error](err); n == 0 && (!ok || gone.Kind != port.Gone) || n == 1 && !errors.Is(err, done) {
			t.Fatalf("port %d ended with %v", n, err)
		}
	}
	if want := "63.48mm\r\n63.50mm\r\n64mm\r\n"; got.String() != want {
		t.Errorf("heard %q, want %q", got.String(), want)
	}
	if err := <-replayed; err != nil {
		t.Errorf("the replay ended with %v", err)
	}
}

func TestReplayEndsWithItsContext(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	r := capture.Replay{Speed: 1, Announce: func(string) error { stop(); return nil }}
	if err := r.Run(ctx, strings.NewReader(whole)); err != nil {
		t.Errorf("got %v, want nil", err)
	}
}

func TestReplayRefusesADamagedCapture(t *testing.T) {
	r := capture.Replay{Announce: func(name string) error {
		p, err := port.Open(name, port.Options{})
		if err != nil {
			return err
		}
		go p.Run(t.Context(), func(devices.Chunk) error { return nil })
		return nil
	}}
	if err := r.Run(t.Context(), strings.NewReader("+0 63mm\n")); err == nil || !strings.Contains(err.Error(), "line 1 of the capture") {
		t.Errorf("got %v, want the line named", err)
	}
}

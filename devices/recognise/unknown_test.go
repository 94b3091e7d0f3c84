package recognise_test

import (
	"context"
	"encoding/binary"
	"errors"
	"testing"

	"evenbeat/devices"
	"evenbeat/devices/port"
	"evenbeat/devices/recognise"
)

// stranger is an instrument that sends frames of a format of its own, some time apart.
// Each opening of its port goes on where the last ended.
type stranger struct {
	apart func(frame int) int64
	frame int
	at    int64
}

func (*stranger) Name() string { return "stranger" }

func (l *stranger) Run(_ context.Context, deliver func(devices.Chunk) error) error {
	for {
		l.frame++
		l.at += l.apart(l.frame)
		b := binary.LittleEndian.AppendUint64([]byte{0xfe}, uint64(l.frame)*0x9e3779b97f4a7c15)
		for _, c := range []devices.Chunk{{At: devices.Stamp{Mono: l.at}, Bytes: b}, {At: devices.Stamp{Mono: l.at + 5e7}}} {
			if err := deliver(c); err != nil {
				return err
			}
		}
	}
}

// Bytes that nobody knows end in a conclusion. What keeps a clock's pace is timed by its
// arrival, and no frame is lost. Anything else is an error that tells what to do.
func TestUnknownBytesEndTheSearch(t *testing.T) {
	search := func(apart func(int) int64) (*recognise.Heard, *stranger, error) {
		l := &stranger{apart: apart}
		s := recognise.Search{Settings: recognise.Ways(port.Settings{}), Expect: "count-lines", Beats: true,
			Open: func(string, port.Settings) (recognise.Line, error) { return l, nil }}
		h, err := s.At(t.Context(), l)
		return h, l, err
	}
	h, l, err := search(func(frame int) int64 {
		if frame%9 == 0 {
			return 1000e6 // a missed beat
		}
		return 500e6 + int64(frame%3)*1e6
	})
	if err != nil || h.Format != "byte-beats" {
		t.Fatalf("got %+v, %v, want byte-beats", h, err)
	}
	heard, frames, enough := 0, 5+l.frame, errors.New("enough")
	err = h.Run(t.Context(), func(c devices.Chunk) error {
		if len(c.Bytes) > 0 {
			heard++
		}
		if heard == frames {
			return enough
		}
		return nil
	})
	if !errors.Is(err, enough) || l.frame != frames {
		t.Errorf("%d frames were heard of %d: %v", heard, l.frame, err)
	}

	_, l, err = search(func(frame int) int64 { return int64(frame*frame%17) * 400e6 })
	if u, ok := errors.AsType[*recognise.UnknownError](err); !ok || u.Settings != len(recognise.Ways(port.Settings{})) || len(u.Heard) == 0 {
		t.Errorf("after %d frames at no pace: got %v, want it to be unknown", l.frame, err)
	}
}

package live

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/beat"
	"evenbeat/devices/caliper"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

var (
	_ ReadingBook = (*book.Book)(nil)
	_ BeatBook    = (*book.Book)(nil)
)

// memory is a book in memory: a bubble's clock stands still while a file is waited
// for.
type memory struct {
	mu       sync.Mutex
	sessions []sessions.Session
	ended    int
	host     []sessions.HostReading
	readings []sessions.Reading
	undone   []int64
	beats    []sessions.Beat
	faults   []sessions.Fault
	air      []sessions.Air
	hold     chan struct{} // if not nil, a reading waits here
	full     error         // if not nil, nothing more is kept
}

func (m *memory) StartSession(_ context.Context, s sessions.Session) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.sessions = append(m.sessions, s)
	return int64(len(m.sessions)), m.full
}

func (m *memory) AddHostReading(_ context.Context, _ int64, r sessions.HostReading) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.host = append(m.host, r)
	return m.full
}

func (m *memory) EndSession(context.Context, int64, time.Time) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.ended++
	return nil
}

func (m *memory) AddReading(_ context.Context, r sessions.Reading) (int64, error) {
	if m.hold != nil {
		<-m.hold
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.full != nil {
		return 0, m.full
	}
	m.readings = append(m.readings, r)
	return int64(len(m.readings)), nil
}

func (m *memory) Undo(_ context.Context, id int64, _ string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.undone = append(m.undone, id)
	return nil
}

func (m *memory) AddEvent(context.Context, sessions.Event) (int64, error) { return 1, nil }

func (m *memory) AddFault(_ context.Context, f sessions.Fault) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.faults = append(m.faults, f)
	return int64(len(m.faults)), nil
}

func (m *memory) AppendBeats(_ context.Context, _ int64, beats []sessions.Beat) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.full == nil {
		m.beats = append(m.beats, beats...)
	}
	return m.full
}

func (m *memory) AppendReferences(context.Context, int64, []sessions.Reference) error { return nil }
func (m *memory) CompactBeats(context.Context, int64) error                           { return nil }
func (m *memory) Checkpoint(context.Context) error                                    { return nil }

func (m *memory) AddAir(_ context.Context, a sessions.Air) (int64, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.air = append(m.air, a)
	return int64(len(m.air)), m.full
}

// kept counts the readings in the book.
func (m *memory) kept() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return len(m.readings)
}

// line is an instrument that sends a line each so often, up to a number of them, and
// then stays silent.
type line struct {
	every  time.Duration
	lines  int
	text   func(i int) string
	closed bool
}

func (l *line) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	defer func() { l.closed = true }()
	for i := range l.lines {
		select {
		case <-time.After(l.every):
		case <-ctx.Done():
			return nil
		}
		if err := deliver(devices.Chunk{At: now(), Bytes: []byte(l.text(i))}); err != nil {
			return err
		}
	}
	<-ctx.Done()
	return nil
}

func now() devices.Stamp {
	t := time.Now()
	return devices.Stamp{UTC: t.UnixNano(), Mono: t.UnixNano()}
}

func onBench(t *testing.T) Bench {
	t.Helper()
	loaded, err := configs.Load(configs.LoadOptions{Environ: []string{"HOME=" + t.TempDir()}, Formats: FormatProfiles()})
	if err != nil {
		t.Fatal(err)
	}
	return Bench{Loaded: loaded, Unit: quantity.Millimetre, Log: zerolog.Nop()}
}

// bores is a plan of n readings, all of one bore.
func bores(n int) plan.Plan {
	return plan.Plan{Name: "bores", Part: "barrel", Steps: []plan.Step{
		{Dimension: "bore", Count: n, Kind: sessions.Inside, Min: 5e-3, Max: 250e-3, Vary: 1e-3}}}
}

// calipers sends n readings; every tenth is garbage, every twentieth outside the
// plausible range.
func calipers(n int) *line {
	return &line{every: time.Millisecond, lines: n, text: func(i int) string {
		switch {
		case i%20 == 19:
			return "300.00mm\r\n"
		case i%10 == 9:
			return "rubbish\r\n"
		}
		return fmt.Sprintf("63.%02dmm\r\n", i%7)
	}}
}

func caliperAt(src Source) Input {
	return Input{Port: "here", Source: src, Instrument: Instrument{Decoder: caliper.TextLength().New(quantity.Millimetre),
		Profile: configs.Profile{Name: "caliper", LimitInsideMM: 0.04, LimitOutsideMM: 0.02}}}
}

// sensor sends n beats a second apart, a microsecond count each.
func sensor(n int) *line {
	return &line{every: time.Second, lines: n, text: func(i int) string { return fmt.Sprintf("%d\r\n", 1000000+i*1000100) }}
}

func sensorAt(src Source) Input {
	return Input{Port: "here", Source: src, Instrument: Instrument{Decoder: beat.CountLines().New(quantity.NoUnit),
		Profile: configs.Profile{Name: "beat-counter", CountRate: 1e6, CountBits: 32}}}
}

package live

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"evenbeat/configs"
	"evenbeat/devices"
	"evenbeat/devices/air"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

func airSensorAt(src Source) Input {
	return Input{Port: "there", Source: src, Instrument: Instrument{Decoder: air.AirText().New(quantity.NoUnit),
		Profile: configs.Profile{Name: "air-text", Kind: configs.KindAir}}}
}

// samples is a sensor of the air that sends each ten seconds, from one time to another.
func samples(from, to time.Duration) (p pieces) {
	for at := from; at < to; at += 10 * time.Second {
		p = append(p, piece{at: at, text: fmt.Sprintf("%.1fC 1013hPa\r\n", 20+at.Hours())})
	}
	return p
}

func kindsOf(faults []sessions.Fault) (kinds []string) {
	for _, f := range faults {
		kinds = append(kinds, f.Kind)
	}
	return kinds
}

// A sensor of the air is pulled out and put back, sends garbage and falls silent: each is
// kept as a fault, the recording goes on, and the sum tells the gaps.
func TestAir(t *testing.T) {
	const min = time.Minute
	pulled := slices.Concat(samples(10*time.Second, 5*min), pieces{{at: 5 * min, FaultKind: devices.FaultUnplugged}, {at: 65 * min, FaultKind: devices.FaultReplugged}}, samples(66*min, 70*min))
	for name, tc := range map[string]struct {
		src    pieces
		end    time.Duration
		rows   int
		faults []string
		gaps   int
		gap    time.Duration
	}{
		"even":       {samples(10*time.Second, 10*min), 10 * min, 10, nil, 0, 0},
		"garbage":    {slices.Concat(samples(10*time.Second, 2*min), pieces{{at: 2 * min, text: "\xff\xfe rubbish\r\n400C\r\n"}}, samples(130*time.Second, 3*min)), 3 * min, 3, []string{"garbage", "range"}, 0, 0},
		"pulled":     {pulled, 70 * min, 9, []string{"unplugged", "replugged"}, 1, 61 * min},
		"silent":     {slices.Concat(samples(10*time.Second, 5*min), samples(30*min, 31*min)), 31 * min, 6, []string{"silent"}, 1, 26 * min},
		"at once":    {samples(20*min, 21*min), 21 * min, 1, []string{"silent"}, 1, 20 * min},
		"to the end": {samples(10*time.Second, 2*min), 40 * min, 2, []string{"silent"}, 1, 38 * min},
		"nothing":    {nil, 5 * min, 0, nil, 0, 0},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				store := &memory{}
				a := onBench(t).NewAir(sessions.Clock{ID: 7, Name: "Hall"}, airSensorAt(tc.src), min, now)
				time.AfterFunc(tc.end, a.Finish)
				if err := a.Run(t.Context(), store); err != nil {
					t.Fatal(err)
				}
				s := a.State()
				if len(store.air) != tc.rows || s.Air.Rows != int64(tc.rows) || store.ended != 1 || store.sessions[0].Kind != sessions.SessionAir {
					t.Errorf("%d rows, the sum tells %d, want %d; %d sessions ended: %+v", len(store.air), s.Air.Rows, tc.rows, store.ended, store.sessions)
				}
				if got := kindsOf(store.faults); !slices.Equal(got, tc.faults) || s.Faults != int64(len(tc.faults)) {
					t.Errorf("faults %q, %d told, want %q", got, s.Faults, tc.faults)
				}
				gap := time.Duration(s.Air.GapS * float64(time.Second))
				if s.Air.Gaps != tc.gaps || (gap-tc.gap).Abs() > min {
					t.Errorf("%d gaps of %v in all, want %d of %v", s.Air.Gaps, gap, tc.gaps, tc.gap)
				}
				if tc.rows > 0 && (s.Air.Pressure == nil || s.Air.Pressure.Low != 1013 || s.Air.Humidity != nil || s.Air.Temperature.Low < 20) {
					t.Errorf("sum %+v", s.Air)
				}
			})
		})
	}
}

// broken is a source that fails after a time.
type broken time.Duration

var errGone = errors.New("the sensor is gone for good")

func (b broken) Run(ctx context.Context, _ func(devices.Chunk) error) error {
	select {
	case <-time.After(time.Duration(b)):
		return errGone
	case <-ctx.Done():
		return nil
	}
}

// Whatever becomes of a sensor of the air beside it, the beats are kept to the last, and
// its own faults are told apart from the beat sensor's.
func TestAirBesideBeats(t *testing.T) {
	const beats = 3600
	for name, tc := range map[string]struct {
		open   func(context.Context, []string) (Input, error)
		later  bool
		rows   int
		faults []string
		warned int
	}{
		"heard": {func(context.Context, []string) (Input, error) {
			return airSensorAt(samples(10*time.Second, time.Hour)), nil
		}, false, 60, nil, 0},
		"later": {func(context.Context, []string) (Input, error) {
			time.Sleep(30*time.Minute + time.Second)
			return airSensorAt(samples(10*time.Second, time.Hour)), nil
		}, true, 30, nil, 0},
		"never there":            {func(ctx context.Context, _ []string) (Input, error) { <-ctx.Done(); return Input{}, nil }, true, 0, nil, 0},
		"not to be opened later": {func(context.Context, []string) (Input, error) { return Input{}, errGone }, true, 0, []string{"air gone"}, 0},
		"fails":                  {func(context.Context, []string) (Input, error) { return airSensorAt(broken(time.Minute)), nil }, false, 0, []string{"air gone"}, 0},
		"garbage": {func(context.Context, []string) (Input, error) {
			return airSensorAt(pieces{{at: time.Minute, text: "\xff rubbish\r\n"}}), nil
		}, false, 0, []string{"air garbage", "air silent"}, 1},
		"silent": {func(context.Context, []string) (Input, error) {
			return airSensorAt(samples(40*time.Minute, time.Hour)), nil
		}, false, 20, []string{"air silent"}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				store := &memory{}
				rec := onBench(t).NewTiming(sessions.Clock{ID: 7, Name: "Hall", BeatsPerHour: 3600}, sensorAt(sensor(beats)), TimingOptions{Now: now, Air: tc.open, AirLater: tc.later})
				time.AfterFunc(time.Hour+500*time.Millisecond, rec.Finish)
				if err := rec.Run(t.Context(), store); err != nil {
					t.Fatal(err)
				}
				if len(store.beats) != beats || len(store.sessions) != 1 || store.sessions[0].Kind != sessions.SessionTime {
					t.Errorf("%d beats in %d sessions, want %d in one", len(store.beats), len(store.sessions), beats)
				}
				if len(store.air) != tc.rows || rec.State().Air.Rows != int64(tc.rows) {
					t.Errorf("%d rows of the air, the sum tells %d, want %d", len(store.air), rec.State().Air.Rows, tc.rows)
				}
				if got := kindsOf(store.faults); !slices.Equal(got, tc.faults) || len(rec.State().Warnings) != tc.warned {
					t.Errorf("faults %q, warnings %q; want %q, %d", got, rec.State().Warnings, tc.faults, tc.warned)
				}
				if b := slices.IndexFunc(store.beats, func(b sessions.Beat) bool { return b.Break }); b >= 0 {
					t.Errorf("the count is broken at beat %d", b)
				}
			})
		})
	}
	t.Run("not to be opened", func(t *testing.T) {
		rec := onBench(t).NewTiming(sessions.Clock{Name: "Hall"}, sensorAt(sensor(1)), TimingOptions{Now: now, Air: func(context.Context, []string) (Input, error) { return Input{}, errGone }})
		store := &memory{}
		if err := rec.Run(t.Context(), store); !errors.Is(err, errGone) || len(store.sessions) > 0 {
			t.Errorf("got %v and %d sessions, want %v and none", err, len(store.sessions), errGone)
		}
	})
}

package live

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"evenbeat/devices"
	"evenbeat/sessions"
)

// pieces is a sensor that delivers chunks at set times from its start.
type pieces []piece

type piece struct {
	at   time.Duration
	text string
	devices.FaultKind
}

func (p pieces) Run(ctx context.Context, deliver func(devices.Chunk) error) error {
	began := time.Now()
	for _, x := range p {
		select {
		case <-time.After(time.Until(began.Add(x.at))):
		case <-ctx.Done():
			return nil
		}
		if err := deliver(devices.Chunk{At: now(), Bytes: []byte(x.text), Fault: x.FaultKind}); err != nil {
			return err
		}
	}
	<-ctx.Done()
	return nil
}

// A silence is told each second while it lasts, and kept as one fault with its length,
// also when it lasts to the session's end. A pulled plug is a fault of its own.
func TestSilence(t *testing.T) {
	beats := func(from, to int) (p pieces) {
		for s := from; s < to; s++ {
			p = append(p, piece{at: time.Duration(s) * time.Second, text: sensor(0).text(s)})
		}
		return p
	}
	s := time.Second
	for name, tc := range map[string]struct {
		src   pieces
		end   time.Duration
		want  []string // the silences kept
		quiet time.Duration
	}{
		"none":       {beats(1, 30), 30 * s, nil, 1 * s},
		"a slow one": {slices.Concat(beats(1, 5), beats(13, 20)), 20 * s, nil, 8 * s},
		"in between": {slices.Concat(beats(1, 5), beats(27, 40)), 40 * s, []string{"00:00:04 nothing was heard for 23s"}, 22 * s},
		"at the end": {beats(1, 6), 20 * s, []string{"00:00:05 nothing was heard for 15s"}, 14 * s},
		"throughout": {nil, 12 * s, []string{"00:00:00 nothing was heard for 12s"}, 11 * s},
		"pulled": {slices.Concat(beats(1, 5), pieces{{at: 5 * s, FaultKind: devices.FaultUnplugged}, {at: 40 * s, FaultKind: devices.FaultReplugged}},
			beats(41, 45)), 45 * s, nil, 34 * s},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				store := &memory{}
				rec := timingOf(t, tc.src)
				told := rec.Subscribe(t.Context())
				began := time.Now()
				time.AfterFunc(tc.end, rec.Finish)
				_ = rec.Run(t.Context(), store) // too few beats for a figure, in some
				var longest time.Duration
				for e := range told {
					if e.Kind == Ticked {
						longest = max(longest, e.Quiet)
						if at := e.At.Sub(began); at%time.Second != 0 {
							t.Errorf("told after %v", at)
						}
					}
				}
				var got []string
				for _, f := range store.faults {
					if f.Kind == string(wasSilent) {
						got = append(got, time.Time{}.Add(f.At.Sub(began)).Format("15:04:05 ")+f.Text)
					}
				}
				if !slices.Equal(got, tc.want) || longest < tc.quiet || longest > tc.quiet+time.Second {
					t.Errorf("kept %q, told of %v; want %q, %v", got, longest, tc.want, tc.quiet)
				}
			})
		})
	}
}

// A silence is told within ten beats of the last, however quick the clock, whether its beat
// is known or found, and its end as soon as a beat is heard. A few missed beats are none.
func TestSilenceWithinTenBeats(t *testing.T) {
	for _, perHour := range []float64{3600, 7200, 18000, 28800, 36000} {
		for _, known := range []float64{perHour, 0} {
			t.Run(fmt.Sprintf("%g, known %g", perHour, known), func(t *testing.T) {
				synctest.Test(t, func(t *testing.T) {
					interval := time.Duration(3600 / perHour * float64(time.Second))
					var src pieces
					for n := 1; n < 200; n++ {
						if n > 60 && n < 66 || n > 100 && n < 140 {
							continue
						}
						src = append(src, piece{at: time.Duration(n) * interval, text: fmt.Sprintf("%d\r\n", time.Duration(n)*interval/time.Microsecond)})
					}
					rec := onBench(t).NewTiming(sessions.Clock{Name: "Hall", BeatsPerHour: known}, sensorAt(src), TimingOptions{Now: now, EstimateEvery: time.Second})
					began, silent := time.Now(), false
					var turned []time.Duration // in beats, when silence began and ended
					told := rec.Subscribe(t.Context())
					time.AfterFunc(200*interval, rec.Finish)
					var all sync.WaitGroup
					all.Go(func() {
						for range told {
							if s := rec.State(); s.Silent != silent && !s.Over {
								silent = s.Silent
								turned = append(turned, time.Since(began)/interval)
							}
						}
					})
					if err := rec.Run(t.Context(), &memory{}); err != nil {
						t.Error(err)
					}
					all.Wait()
					if len(turned) != 2 || turned[0] > 110 || turned[1] != 140 {
						t.Errorf("silent from and to %d, want from 110 at the latest, to 140", turned)
					}
				})
			})
		}
	}
}

// forgetful is a book that doesn't keep what the computer tells at the session's end.
type forgetful struct{ memory }

func (f *forgetful) AddHostReading(ctx context.Context, id int64, r sessions.HostReading) error {
	if len(f.host) > 0 {
		return errBroken
	}
	return f.memory.AddHostReading(ctx, id, r)
}

// What the computer tells of its clock at the end may fail to be kept: the rate is found
// all the same, and the failure told.
func TestHostReadingFails(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		rec := timingOf(t, sensor(60))
		time.AfterFunc(time.Minute, rec.Finish)
		err := rec.Run(t.Context(), &forgetful{})
		s := rec.State()
		if err != nil || errors.Is(s.Err, errBroken) || s.Estimate == nil || s.Estimate.Result.Beats < 59 || len(s.Warnings) != 1 {
			t.Errorf("got %v, state %+v", err, s)
		}
	})
}

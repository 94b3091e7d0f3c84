package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/analysis/beat"
	"evenbeat/devices"
	beatlines "evenbeat/devices/beat"
	"evenbeat/devices/formats"
	"evenbeat/devices/quantity"
	"evenbeat/devices/reference"
	"evenbeat/devices/simulate"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/recorder"
)

// anHour is a clock, and a computer beside it whose own clock runs fast and is held
// by nobody. A receiver tells it the time each second, 20 to 120 ms late, and may give
// a pulse of 10 ms before, of which the computer hears up to 1 ms late.
type anHour struct {
	clock  simulate.ClockConfig
	host   *simulate.Host
	rng    *rand.Rand
	pulses bool
	alone  bool // no receiver is there
}

const hostFastPPM = 80

func newHour(t *testing.T, seed uint64) anHour {
	t.Helper()
	c := simulate.EvenClock(seed)
	c.Span, c.Rate, c.Jitter = 3600, 8.64, 80e-6
	c.ResonatorPPM = 4000
	c.Delay = simulate.Delay{Mean: 4e-3, Most: 16e-3}
	host, err := simulate.NewHost(simulate.HostConfig{PPM: hostFastPPM, Start: hourStart})
	if err != nil {
		t.Fatal(err)
	}
	return anHour{clock: c, host: host, rng: rand.New(rand.NewPCG(seed, 80))}
}

// A receiver's day begins in the session.
var hourStart = time.Date(2026, 2, 28, 23, 30, 0, 0, time.UTC)

// sentence writes the time of a second as a receiver does.
func sentence(at time.Time) []byte {
	body := at.Format("GPRMC,150405.00,A,,,,,,,020106,,")
	var sum byte
	for _, b := range []byte(body) {
		sum ^= b
	}
	return fmt.Appendf(nil, "$%s*%02X\r\n", body, sum)
}

// record takes the hour's bytes, of both instruments in the order in which they come,
// through decoders and recorder into a book.
func (h anHour) record(t *testing.T, file string) {
	t.Helper()
	b, err := book.Open(t.Context(), file, book.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	clock, err := b.AddClock(t.Context(), sessions.Clock{Name: "Hall", BeatsPerHour: h.clock.BeatsPerHour, BeatsPerTooth: 2, HourArbor: 2})
	if err != nil {
		t.Fatal(err)
	}
	ses := sessions.Session{ClockID: clock.ID, Kind: sessions.SessionTime, Started: hourStart,
		Timing: sessions.Timing{HostKnown: true, CountRate: h.clock.CountRate, CountBits: h.clock.CountBits}}
	if ses.ID, err = b.StartSession(t.Context(), ses); err != nil {
		t.Fatal(err)
	}
	queue, done := make(chan []devices.Said, queueLength), make(chan error, 1)
	rec := &recorder.Timing{Store: b, Session: ses, Log: zerolog.Nop()}
	go func() { done <- rec.Run(context.WithoutCancel(t.Context()), queue) }()
	h.speak(t, func(said []devices.Said) { queue <- said })
	close(queue)
	if err := <-done; err != nil {
		t.Fatal(err)
	}
}

func (h anHour) speak(t *testing.T, say func([]devices.Said)) {
	t.Helper()
	clock, err := simulate.NewClock(h.clock)
	if err != nil {
		t.Fatal(err)
	}
	sensor := beatlines.CountLines().New(quantity.NoUnit)
	receiver := reference.NMEA().New(quantity.NoUnit)
	second, late := int64(0), int64(20e6)
	hear := func(at int64, c devices.Chunk) {
		c.At = h.host.Stamp(second*1e9 + at)
		if said := receiver.Decode(nil, c); len(said) > 0 {
			say(recorder.OfReference(said))
		}
	}
	for at, line := range clock.Lines(0, h.clock.Span) {
		for ; !h.alone && second*1e9+late <= at; second++ {
			if h.pulses && second%100 != 99 { // one is lost now and then
				hear(h.rng.Int64N(1e6), devices.Chunk{Changed: devices.PinDCD, Pins: devices.PinDCD})
				hear(10e6+h.rng.Int64N(1e6), devices.Chunk{Changed: devices.PinDCD})
			}
			hear(late, devices.Chunk{Bytes: sentence(hourStart.Add(time.Duration(second) * time.Second))})
			late = 20e6 + h.rng.Int64N(100e6)
		}
		say(sensor.Decode(nil, devices.Chunk{At: h.host.Stamp(at), Bytes: line}))
	}
}

// An hour beside a computer whose clock is 80 ppm fast (6.9 s/day): by the receiver
// the rate is right within its interval in all seeds but one at the most, and the
// interval is a tenth of the ±4.1 s/day that such a clock is taken to be good for; by
// its pulses a hundredth.
func TestRateByReference(t *testing.T) {
	t.Run("sentences", func(t *testing.T) { rateByReference(t, false, "a time reference, by its sentences", 0.41) })
	t.Run("pulses", func(t *testing.T) { rateByReference(t, true, "a time reference, by its pulses", 0.04) })
}

// rateByReference asks for an interval of ± widest s/day at the most, and for words.
func rateByReference(t *testing.T, pulses bool, words string, widest float64) {
	t.Helper()
	seeds := 20
	if testing.Short() {
		seeds = 6
	}
	inside, worst, width := 0, 0.0, 0.0
	for seed := range uint64(seeds) {
		h := newHour(t, seed)
		h.pulses = pulses
		file := filepath.Join(t.TempDir(), "book.db")
		h.record(t, file)
		var out, complaint bytes.Buffer
		environ := []string{"EVENBEAT_BOOK=" + file, "HOME=" + t.TempDir()}
		call := func(args ...string) {
			out.Reset()
			if status := run(t.Context(), args, environ, strings.NewReader(""), &out, &complaint); status != statusDone {
				t.Fatalf("seed %d: status %d: %s", seed, status, complaint.String())
			}
		}
		if call("rate"); !strings.Contains(out.String(), words) {
			t.Errorf("seed %d: %s\nwant %q in it", seed, out.String(), words)
		}
		call("rate", "--json")
		var f struct {
			beat.Result
			Rate struct{ Value, U, Low95, High95 float64 } `json:"rate_s_per_day"`
		}
		if err := json.Unmarshal(out.Bytes(), &f); err != nil {
			t.Fatal(err)
		}
		if f.TimeBase.Source != "reference" || f.TimeBase.HostSynchronised || f.TimeBase.ByPulse != pulses {
			t.Errorf("seed %d: time base %+v, want the reference's", seed, f.TimeBase)
		}
		q := quantity.Value{V: f.Rate.Value, U: f.Rate.U, K: (f.Rate.High95 - f.Rate.Low95) / (2 * f.Rate.U)}
		if q.Covers(h.clock.Rate) {
			inside++
		}
		worst = max(worst, max(q.V-h.clock.Rate, h.clock.Rate-q.V))
		width = max(width, q.Half95())
		if all := strings.Join(f.Warnings, "\n"); strings.Contains(all, "synchronised") || !strings.Contains(all, "apart") {
			t.Errorf("seed %d: warnings %q: want to hear that a crystal isn't 80 ppm off, and nothing of the time service", seed, f.Warnings)
		}
	}
	t.Logf("%d of %d inside, worst error %.3g s/day, ±%.3g at the most", inside, seeds, worst, width)
	if width > widest {
		t.Errorf("±%.3g s/day, want ±%.3g at the most", width, widest)
	}
	if inside < seeds-1 {
		t.Errorf("%d of %d intervals hold the truth", inside, seeds)
	}
}

// An hour beside the same computer without a receiver, a day after one in which a time
// service held its clock and had to slow it by 80 ppm: the rate is right within its
// interval, a tenth of the ±4.1 s/day. On another computer nothing is remembered.
func TestRateByMemory(t *testing.T) {
	for _, host := range []string{"the same", "another"} {
		h := newHour(t, 3)
		h.alone = true
		file := filepath.Join(t.TempDir(), "book.db")
		h.record(t, file)
		b, err := book.Open(t.Context(), file, book.Options{})
		if err != nil {
			t.Fatal(err)
		}
		earlier, err := b.StartSession(t.Context(), sessions.Session{ClockID: 1, Kind: sessions.SessionTime, Port: "/dev/ttyACM0", Started: hourStart.Add(-24 * time.Hour),
			Timing: sessions.Timing{HostKnown: true, HostSynced: true, CountRate: 1e6}})
		if err != nil {
			t.Fatal(err)
		}
		const hour = 3600e9
		for _, r := range []struct {
			session int64
			host    string
			synced  bool
			raw     float64
		}{{earlier, "the same", true, 0}, {earlier, "the same", true, hour * (1 + hostFastPPM*1e-6)}, {1, host, false, 0}, {1, host, false, hour}} {
			reading := sessions.HostReading{Host: r.host, Boot: "1", Synced: r.synced, RawNs: int64(r.raw)}
			if r.raw > 0 {
				reading.MonoNs = hour
			}
			if err := b.AddHostReading(t.Context(), r.session, reading); err != nil {
				t.Fatal(err)
			}
		}
		if err := b.Close(); err != nil {
			t.Fatal(err)
		}
		var out, complaint bytes.Buffer
		environ := []string{"EVENBEAT_BOOK=" + file, "HOME=" + t.TempDir()}
		if status := run(t.Context(), []string{"rate", "--session", "1", "--json"}, environ, strings.NewReader(""), &out, &complaint); status != statusDone {
			t.Fatalf("status %d: %s", status, complaint.String())
		}
		var f struct {
			TimeBase struct {
				Remembered bool
				Host       quantity.Value `json:"host_ppm"`
			}
			Rate struct{ Low95, High95 float64 } `json:"rate_s_per_day"`
		}
		if err := json.Unmarshal(out.Bytes(), &f); err != nil {
			t.Fatal(err)
		}
		half, holds := (f.Rate.High95-f.Rate.Low95)/2, f.Rate.Low95 < h.clock.Rate && h.clock.Rate < f.Rate.High95
		if host == "the same" && (!f.TimeBase.Remembered || !holds || half > 0.5) {
			t.Errorf("the same computer: %s\nwant it remembered, and %g within ±0.5 at the most", out.String(), h.clock.Rate)
		}
		if host == "another" && (f.TimeBase.Remembered || half < 4) {
			t.Errorf("another computer: %s\nwant nothing remembered, and ±4.1", out.String())
		}
	}
}

// The control lines are watched where an instrument may speak by them: 1000 looks a
// second are for nothing elsewhere.
func TestWatchedLines(t *testing.T) {
	var watched []string
	for _, f := range formats.All() {
		if _, ok := f.New(quantity.NoUnit).(devices.PinDecoder); ok {
			watched = append(watched, f.Name)
		}
	}
	if want := []string{"edge-beats", "nmea"}; !slices.Equal(watched, want) {
		t.Errorf("control lines are watched for %q, want %q", watched, want)
	}
}

// told is what a receiver sends n seconds after hourStart.
func told(n int64) string {
	return strings.TrimSpace(string(sentence(hourStart.Add(time.Duration(n) * time.Second))))
}

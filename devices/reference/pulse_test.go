package reference

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"evenbeat/devices"
	"evenbeat/devices/quantity"
)

const ms = int64(1e6)

var midnight = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// receiver is a made-up one, whose second 0 begins at host time 0.
type receiver struct {
	pin     devices.Pins
	inverse bool  // the line is off for the pulse
	width   int64 // of the pulse
	late    int64 // first byte of a second's sentences after it
	missing func(second int) bool
	jitter  func() int64 // by how much an edge is stamped late
	form    string       // of the sentences, as package time writes it
	start   time.Time    // of second 0
}

func usual() receiver {
	return receiver{pin: devices.PinDCD, width: 100 * ms, late: 200 * ms, form: "GPRMC,150405.00,A,,,,,,,020106,,", start: midnight}
}

func sentence(at time.Time, form string) string {
	body := at.Format(form)
	sum := byte(0)
	for _, b := range []byte(body) {
		sum ^= b
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

func stamp(mono int64) devices.Stamp {
	return devices.Stamp{Mono: mono, UTC: midnight.UnixNano() + mono}
}

func fault(mono int64, kind devices.FaultKind) devices.Chunk {
	return devices.Chunk{At: stamp(mono), Fault: kind, Text: "made up"}
}

func change(mono int64, pin devices.Pins, on bool) devices.Chunk {
	c := devices.Chunk{At: stamp(mono), Changed: pin}
	if on {
		c.Pins = pin
	}
	return c
}

// chunks returns what comes of the seconds from to to, in order of arrival: bytes in
// pieces of eight, 17 ms apart, as they come at 4800 baud.
func (r receiver) chunks(from, to int) []devices.Chunk {
	var all []devices.Chunk
	for n := from; n < to; n++ {
		at := int64(n) * second
		if r.missing == nil || !r.missing(n) {
			jitter := int64(0)
			if r.jitter != nil {
				jitter = r.jitter()
			}
			all = append(all, change(at+jitter, r.pin, !r.inverse), change(at+jitter+r.width, r.pin, r.inverse))
		}
		text := []byte(sentence(r.start.Add(time.Duration(n)*time.Second), r.form))
		at += r.late
		for piece := range slices.Chunk(text, 8) {
			all = append(all, devices.Chunk{At: stamp(at), Bytes: piece})
			at += 17 * ms
		}
	}
	inOrder(all)
	return all
}

func inOrder(all []devices.Chunk) {
	slices.SortStableFunc(all, func(a, b devices.Chunk) int { return int(min(1, max(-1, a.At.Mono-b.At.Mono))) })
}

func decode(all []devices.Chunk) (times []devices.Said) {
	d := NMEA().New(quantity.NoUnit)
	var said []devices.Said
	for _, c := range all {
		said = d.Decode(said, c)
	}
	return slices.DeleteFunc(d.Flush(said), func(s devices.Said) bool { return s.Kind != devices.KindTime })
}

// byPulse writes a letter for each time: p by the pulse at its second, s by the
// sentence's own stamp, ! by any other.
func byPulse(r receiver, times []devices.Said) string {
	var b []byte
	for _, t := range times {
		n := (t.Time.Nanos - midnight.UnixNano()) / second
		c := byte('!')
		switch off := t.At.Mono - n*second; {
		case t.Time.ByPulse && off == 0:
			c = 'p'
		case !t.Time.ByPulse && off == r.late:
			c = 's'
		}
		b = append(b, c)
	}
	return string(b)
}

// The second is the pulse's from its third on, whichever polarity and line it has and
// however late the sentence, as long as it comes within the second.
func TestPulse(t *testing.T) {
	const known = "sspppppppp"
	for _, c := range []struct {
		name string
		of   func(*receiver)
		want string
	}{
		{"as usual", func(*receiver) {}, known},
		{"inverse", func(r *receiver) { r.inverse = true }, known},
		{"clear to send", func(r *receiver) { r.pin = devices.PinCTS }, known},
		{"ring, inverse", func(r *receiver) { r.pin, r.inverse = devices.PinRI, true }, known},
		{"no longer than a stamp", func(r *receiver) { r.width = 0 }, known},
		{"1 ms", func(r *receiver) { r.width = ms }, known},
		{"480 ms", func(r *receiver) { r.width = 480 * ms }, "sssppppppp"},
		{"half a second can't be told", func(r *receiver) { r.width = 500 * ms }, "ssssssssss"},
		{"nor what is close to it", func(r *receiver) { r.width = 504 * ms }, "ssssssssss"},
		{"5 ms late, in the pulse", func(r *receiver) { r.late = 5 * ms }, "sssppppppp"},
		{"900 ms late, into the next second", func(r *receiver) { r.late = 900 * ms }, "sspppppppp"},
		{"too near the next to say whose", func(r *receiver) { r.late = 996 * ms }, "ssssssssss"},
		{"the third and sixth missing", func(r *receiver) { r.missing = func(n int) bool { return n == 5 || n == 8 } }, "sspppsppsp"},
		{"lost and back", func(r *receiver) { r.missing = func(n int) bool { return n >= 3 && n < 7 } }, "sspssssppp"},
		{"pulses only later", func(r *receiver) { r.missing = func(n int) bool { return n < 4 } }, "sssssspppp"},
		{"never a pulse", func(r *receiver) { r.missing = func(int) bool { return true } }, "ssssssssss"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := usual()
			c.of(&r)
			times := decode(r.chunks(0, 10))
			if got := byPulse(r, times); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// A pulse that is longer than half a second is taken for its inverse: its end is
// taken for the second, and the sentence's second is the one that ended last.
func TestPulseTooLong(t *testing.T) {
	r := usual()
	for _, width := range []int64{600 * ms, 900 * ms} {
		r.width, r.late = width, 950*ms
		for i, s := range decode(r.chunks(0, 10)) {
			if want := int64(i)*second + width; i > 2 && (!s.Time.ByPulse || s.At.Mono != want) {
				t.Errorf("%d ms: second %d at %d ns (by pulse: %v), want %d", width/ms, i, s.At.Mono, s.Time.ByPulse, want)
			}
		}
	}
}

// What has no date goes by the pulse too; what tells no whole second doesn't.
func TestPulseOfWhatSentence(t *testing.T) {
	for form, want := range map[string]bool{
		"GPRMC,150405,A,,,,,,,020106,,":     true,
		"GPRMC,150405.000,A,,,,,,,020106,,": true,
		"GPZDA,150405.00,02,01,2006,00,00":  true,
		"GPGGA,150405,,,,,1,,,,,,,,":        true,
		"GPRMC,150405.50,A,,,,,,,020106,,":  false,
		"GPRMC,,V,,,,,,,,,":                 false,
	} {
		r := usual()
		r.form = form
		times := decode(r.chunks(0, 6))
		if last := times[5]; last.Time.ByPulse != want || !want && last.At != stamp(5*second+r.late) {
			t.Errorf("%s: by pulse %v at %d ns, want %v", form, last.Time.ByPulse, last.At.Mono, want)
		}
	}
}

// The sentences of a second all give its one edge.
func TestPulseOfSeveralSentences(t *testing.T) {
	r, z := usual(), usual()
	z.form, z.late = "GPZDA,150405.00,02,01,2006,00,00", 600*ms
	both := slices.Concat(r.chunks(0, 6), slices.DeleteFunc(z.chunks(0, 6), func(c devices.Chunk) bool { return c.Changed != 0 }))
	inOrder(both)
	for i, s := range decode(both)[6:] {
		n := int64(3 + i/2)
		if !s.Time.ByPulse || s.At != stamp(n*second) || s.Time.Nanos != stamp(n*second).UTC {
			t.Errorf("sentence %d: %+v at %d ns, want second %d by its pulse", i, s.Time, s.At.Mono, n)
		}
	}
}

// A leap second has a pulse of its own, which tells the same time as the next.
func TestPulseOfLeapSecond(t *testing.T) {
	r, leap := usual(), usual()
	leap.start, leap.form = midnight.Add(-time.Second), "GPRMC,150460.00,A,,,,,,,020106,,"
	all := slices.Concat(r.chunks(-4, 0), leap.chunks(0, 1))
	r.start = leap.start
	times := decode(append(all, r.chunks(1, 2)...))
	for i, s := range times[len(times)-2:] {
		if !s.Time.ByPulse || s.At != stamp(int64(i)*second) || s.Time.Nanos != midnight.UnixNano() {
			t.Errorf("got %+v at %d ns, want midnight by the pulse at second %d", s.Time, s.At.Mono, i)
		}
	}
}

// Behind whatever befalls the line, and behind a change of several lines at once, the
// pulse must be known anew. Knocks leave in doubt the second in which they come.
func TestPulseDisturbed(t *testing.T) {
	both := devices.Chunk{At: stamp(4*second + 700*ms), Changed: devices.PinDCD | devices.PinCTS}
	knock := func(at int64, pin devices.Pins) []devices.Chunk {
		return []devices.Chunk{change(at, pin, true), change(at+2*ms, pin, false)}
	}
	steady := receiver{pin: devices.PinCTS, width: 50 * ms, late: 300 * ms, form: "GPTXT", start: midnight}
	for _, c := range []struct {
		name string
		add  []devices.Chunk
		want string
	}{
		{"unplugged", []devices.Chunk{fault(4*second+700*ms, devices.FaultUnplugged), fault(4*second+750*ms, devices.FaultReplugged)}, "sspppssppp"},
		{"the host's clock stepped", []devices.Chunk{fault(4*second+700*ms, devices.FaultClockStep)}, "sspppssppp"},
		{"stepped in the second", []devices.Chunk{fault(4*second+50*ms, devices.FaultClockStep)}, "ssppsssppp"},
		{"several lines at once", []devices.Chunk{both}, "sspppssppp"},
		{"a knock before the sentence", knock(4*second+150*ms, devices.PinDCD), "ssppsppppp"},
		{"a knock behind it", knock(4*second+500*ms, devices.PinDCD), "sspppppppp"},
		{"a knock just before the pulse", knock(5*second-3*ms, devices.PinDCD), "sspppspppp"},
		{"a knock on another line", knock(4*second+150*ms, devices.PinRI), "sspppppppp"},
		{"another line with a pulse", steady.chunks(0, 10), "ssssssssss"},
		{"another line, once this is known", steady.chunks(4, 10), "sspppppppp"},
	} {
		t.Run(c.name, func(t *testing.T) {
			all := slices.Concat(usual().chunks(0, 10), c.add)
			inOrder(all)
			if got := byPulse(usual(), decode(all)); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// A receiver that is set anew may give another pulse: until the last of the old one
// is ten seconds ago it is none, and then it is known.
func TestPulseOfAnotherKind(t *testing.T) {
	other := usual()
	other.inverse = true
	times := decode(slices.Concat(usual().chunks(0, 6), other.chunks(6, 22)))
	if got, want := byPulse(usual(), times), "sspppp"+"sssssssss"+"ppppppp"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// A line that changes at random is never taken for a pulse, neither one with edges
// about as often as a pulse has, nor one that beats as a clock does.
func TestNoPulse(t *testing.T) {
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 1))
		r := usual()
		r.missing = func(int) bool { return true }
		all := r.chunks(0, 100)
		on, step := false, []int64{second / 2, second / 4, 2 * second}[seed%3]
		for at := int64(0); at < 100*second; at += ms + rng.Int64N(2*step) {
			on = !on
			all = append(all, change(at, devices.PinDCD, on))
		}
		inOrder(all)
		if got := byPulse(r, decode(all)); slices.Contains([]byte(got), 'p') || slices.Contains([]byte(got), '!') {
			t.Fatalf("seed %d: %s", seed, got)
		}
	}
}

// Whatever receiver it is, with pulses stamped up to 1 ms late and some missing, the
// time is by its second's own edge or by the sentence; and by the edge wherever there
// is one, once the pulse is known.
func TestAnyPulse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := usual()
		r.pin = devices.Pins(1) << rapid.IntRange(0, 3).Draw(t, "line")
		r.inverse = rapid.Bool().Draw(t, "inverse")
		r.width = rapid.Int64Range(0, 480*ms).Draw(t, "width")
		r.late = rapid.Int64Range(5*ms, 990*ms).Draw(t, "late")
		gone := rapid.SliceOfN(rapid.Bool(), 25, 25).Draw(t, "gone")
		r.missing = func(n int) bool { return n > 3 && n < 25 && gone[n] && !(gone[n-1] && gone[n-2] && gone[n-3]) }
		late := map[int]int64{}
		r.jitter = func() int64 {
			n := len(late)
			for n > 3 && r.missing(n) {
				late[n] = 0
				n++
			}
			late[n] = rapid.Int64Range(0, ms).Draw(t, "jitter")
			return late[n]
		}
		for n, s := range decode(r.chunks(0, 25)) {
			there := !r.missing(n)
			want := stamp(int64(n)*second + r.late)
			if s.Time.ByPulse {
				want = stamp(int64(n)*second + late[n])
			}
			if s.At != want || s.Time.ByPulse && !there || n > 3 && there && !s.Time.ByPulse {
				t.Fatalf("second %d: by pulse %v at %d ns, the pulse is there: %v, %d ns late", n, s.Time.ByPulse, s.At.Mono, there, late[n])
			}
		}
	})
}

// FuzzPulse asks that whatever comes, no time is by a pulse that isn't a change of one
// line within the second before the sentence.
func FuzzPulse(f *testing.F) {
	f.Add(uint64(1), []byte{0, 1, 2, 3, 250, 4, 255})
	f.Fuzz(func(t *testing.T, seed uint64, what []byte) {
		rng := rand.New(rand.NewPCG(seed, 2))
		d := NMEA().New(quantity.NoUnit)
		edges := map[devices.Stamp]bool{}
		at := int64(0)
		for i, b := range what {
			at += []int64{0, ms, 100 * ms, second / 2, second, rng.Int64N(3 * second)}[rng.IntN(6)]
			c := devices.Chunk{At: stamp(at), Changed: devices.Pins(b), Pins: devices.Pins(rng.Uint32())}
			switch {
			case b > 250:
				c = fault(at, devices.FaultReplugged)
			case b > 100:
				c = devices.Chunk{At: stamp(at), Bytes: []byte(sentence(midnight.Add(time.Duration(i)*time.Second), usual().form))}
			case b&(b-1) == 0:
				edges[c.At] = true
			}
			for _, s := range d.Decode(nil, c) {
				if s.Time.ByPulse && (!edges[s.At] || at-s.At.Mono >= second) {
					t.Fatalf("at %d ns: %+v by what at %d ns is no edge", at, s.Time, s.At.Mono)
				}
			}
		}
	})
}

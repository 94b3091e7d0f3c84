package formats_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/quantity"
)

// An encoder writes one frame and returns it with what a decoder must make of it.
// The encoders share no code with the decoders. Text-length and count-lines have
// theirs beside their decoders.
type encoder func(rng *rand.Rand) (string, devices.Said)

func pick[T any](rng *rand.Rand, from ...T) T { return from[rng.IntN(len(from))] }

func length(v, step float64, text string) devices.Said {
	return devices.Said{Kind: devices.KindReading, Text: text, Reading: devices.Reading{Value: v, Step: step}}
}

func encodeDigits52(rng *rand.Rand) (string, devices.Said) {
	n, places, inch := rng.IntN(1e6), rng.IntN(6), rng.IntN(2)
	if places < 2 {
		n %= 1000 // nothing on the bench is longer than a few metres
	}
	text := fmt.Sprintf("FFFF%c%06d%d%d", pick(rng, '0', '8'), n, places, inch)
	step := math.Pow10(-places) * []float64{0.001, 0.0254}[inch]
	v := float64(n) * step
	if text[4] == '8' {
		v = -v
	}
	return text, length(v, step, text)
}

// bits24 returns a number of 24 bits and the length it stands for.
func bits24(rng *rand.Rand) (uint32, float64, float64) {
	n, minus, inch := rng.Uint32N(1<<20), rng.Uint32N(2), rng.Uint32N(2)
	step := []float64{0.01e-3, 0.0005 * 0.0254}[inch]
	return n + minus*0x100000 + inch*0x800000, step * float64(n) * (1 - 2*float64(minus)), step
}

func encodeBits24Hex(rng *rand.Rand) (string, devices.Said) {
	n, v, step := bits24(rng)
	text := fmt.Sprintf(pick(rng, "%06X", "%06x"), n)
	return text, length(v, step, text)
}

func encodeInterval(rng *rand.Rand) (string, devices.Said) {
	n := rng.Uint64N(1 << rng.IntN(40))
	return fmt.Sprint(n), devices.Said{Kind: devices.KindBeat, Beat: devices.Beat{Count: n, HasCount: true}}
}

func encodeUTC(rng *rand.Rand) (string, devices.Said) {
	t := time.Unix(rng.Int64N(9e9), rng.Int64N(1e9)/1000*1000)
	text := fmt.Sprintf("%d.%06d", t.Unix(), t.Nanosecond()/1000)
	if rng.IntN(2) == 0 {
		zone := time.FixedZone("", 3600*(rng.IntN(25)-12))
		text = t.In(zone).Format("2006-01-02T15:04:05.000000Z07:00")
	}
	return text, devices.Said{Kind: devices.KindBeat, Beat: devices.Beat{Count: uint64(t.UnixNano()), HasCount: true}}
}

func encodeAir(rng *rand.Rand) (string, devices.Said) {
	t, p, h := float64(rng.IntN(1500)-500)/10, float64(3000+rng.IntN(9000))/10, float64(rng.IntN(1001))/10
	a := devices.Air{TemperatureC: t, PressureHPa: p, HumidityPct: h, HasTemperature: true, HasPressure: true, HasHumidity: true}
	parts := []string{fmt.Sprintf("%.1fC", t), fmt.Sprintf("%.1fhPa", p), fmt.Sprintf("%.1f%%", h)}
	if rng.IntN(2) == 0 {
		parts = []string{fmt.Sprintf("t=%.1f", t), fmt.Sprintf("p=%.1f", p), fmt.Sprintf("h=%.1f", h)}
	}
	rng.Shuffle(3, func(i, j int) { parts[i], parts[j] = parts[j], parts[i] })
	if strings.HasSuffix(parts[0], "C") && rng.IntN(3) == 0 {
		parts, a = parts[:1], devices.Air{TemperatureC: t, HasTemperature: true}
	}
	text := strings.Join(parts, pick(rng, " ", ", ", "\t"))
	return text, devices.Said{Kind: devices.KindAir, Text: text, Air: a}
}

func encodeNMEA(rng *rand.Rand) (string, devices.Said) {
	day := time.Date(2000+rng.IntN(80), time.Month(1+rng.IntN(12)), 1+rng.IntN(28), 0, 0, 0, 0, time.UTC)
	ms := rng.Int64N(86400000)
	t := day.Add(time.Duration(ms) * time.Millisecond)
	body := ""
	switch rng.IntN(2) {
	case 0:
		body = t.Format("GNRMC,150405.000,A,1,N,2,E,,,020106,,")
	case 1:
		body = t.Format("GPZDA,150405.000,02,01,2006,00,00")
	}
	sum := byte(0)
	for _, b := range []byte(body) {
		sum ^= b
	}
	text := fmt.Sprintf("$%s*%02X", body, sum)
	return text, devices.Said{Kind: devices.KindTime, Text: text, Time: devices.Time{Nanos: t.UnixNano(), Has: true, Valid: true}}
}

func encodeForce(rng *rand.Rand) (string, devices.Said) {
	n := rng.IntN(100000)
	unit := pick(rng, "N", "kgf", "gf", "ozf", "Nm", "Nmm")
	size := map[string]float64{"N": 1, "kgf": 9.80665, "gf": 0.00980665, "ozf": 9.80665 * 0.45359237 / 16, "Nm": 1, "Nmm": 0.001}[unit]
	text := fmt.Sprintf("%s%d%s%02d%s%s", pick(rng, "", "+", "G1 "), n/100, pick(rng, ".", ","), n%100, pick(rng, "", " "), unit)
	r := devices.Reading{Value: float64(n) / 100 * size, Step: size / 100, Dim: devices.DimForce}
	if strings.HasPrefix(unit, "Nm") {
		r.Dim = devices.DimTorque
	}
	return text, devices.Said{Kind: devices.KindReading, Text: text, Reading: r}
}

func encoders() map[string]encoder {
	return map[string]encoder{"digits52-hex": encodeDigits52, "bits24-hex": encodeBits24Hex, "utc-lines": encodeUTC,
		"interval-lines": encodeInterval, "air-text": encodeAir, "nmea": encodeNMEA, "text-force": encodeForce}
}

func named(t testing.TB, name string) devices.Format {
	t.Helper()
	f, err := formats.Named(name)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// same reports whether got is want but for the last digits that floating point
// leaves open after two or three roundings, and the unit, which encoders don't say.
func same(got, want devices.Said) bool {
	near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-15*math.Abs(b) }
	if !near(got.Reading.Value, want.Reading.Value) || !near(got.Reading.Step, want.Reading.Step) {
		return false
	}
	got.Reading.Value, got.Reading.Step, got.Reading.Unit = want.Reading.Value, want.Reading.Step, 0
	return got == want
}

func TestConversationsAtRandom(t *testing.T) {
	for name, encode := range encoders() {
		for seed := range uint64(1000) {
			rng := rand.New(rand.NewPCG(seed, 4))
			var sent strings.Builder
			var want []devices.Said
			sum := uint64(0)
			for range 1 + rng.IntN(12) {
				frame, said := encode(rng)
				if name == "interval-lines" {
					sum += said.Beat.Count
					said.Beat.Count = sum
				}
				sent.WriteString(frame + pick(rng, "\r", "\n", "\r\n"))
				want = append(want, said)
			}
			got := cut(named(t, name), quantity.NoUnit, seed, devices.Chunk{Bytes: []byte(sent.String())})
			if !slices.EqualFunc(got, want, same) {
				t.Fatalf("%s, seed %d: %q:\ngot  %+v\nwant %+v", name, seed, sent.String(), got, want)
			}
		}
	}
}

// Frames without an end are told apart by the pause between them, 50 ms at least.
func TestRawFramesAtRandom(t *testing.T) {
	for seed := range uint64(1000) {
		rng := rand.New(rand.NewPCG(seed, 5))
		d := named(t, "bits24-raw").New(quantity.NoUnit)
		var got, want []devices.Said
		at := devices.Stamp{}
		for range 1 + rng.IntN(12) {
			n, v, step := bits24(rng)
			frame := []byte{byte(n), byte(n >> 8), byte(n >> 16)}
			said := length(v, step, fmt.Sprintf("%02x %02x %02x", frame[0], frame[1], frame[2]))
			said.At = at
			want = append(want, said)
			for i := range frame { // 33 ms a byte is 300 baud
				got = d.Decode(got, devices.Chunk{At: at, Bytes: frame[i : i+1]})
				if i < 2 {
					at.Mono += rng.Int64N(34e6)
				}
			}
			at.Mono += 50e6 + rng.Int64N(1e9)
			if rng.IntN(2) == 0 {
				got = d.Decode(got, devices.Chunk{At: at})
			}
		}
		if got = d.Flush(got); !slices.EqualFunc(got, want, same) {
			t.Fatalf("seed %d:\ngot  %+v\nwant %+v", seed, got, want)
		}
	}
}

// Where a format has redundancy, one damage to a frame lets no wrong value through:
// digits52-hex tells a lost or doubled byte by its length and fixed digits, NMEA
// any flipped, lost or doubled byte by its sum, bits24-hex a lost or doubled byte
// by its length.
func TestRedundancyIsUsed(t *testing.T) {
	for _, c := range []struct {
		name  string
		flips bool
	}{{"digits52-hex", false}, {"bits24-hex", false}, {"nmea", true}} {
		encode := encoders()[c.name]
		for seed := range uint64(1000) {
			rng := rand.New(rand.NewPCG(seed, 6))
			frame, want := encode(rng)
			damage := [][]byte{}
			for i := range frame {
				damage = append(damage, []byte(frame[:i]+frame[i+1:]), []byte(frame[:i+1]+frame[i:]))
				for bit := 0; c.flips && bit < 8; bit++ {
					b := []byte(frame)
					b[i] ^= 1 << bit
					damage = append(damage, b)
				}
			}
			for _, b := range damage {
				said := whole(named(t, c.name), append(b, '\n'))
				if len(said) == 0 {
					t.Fatalf("%s, seed %d: %q: nothing was said", c.name, seed, b)
				}
				for _, s := range said {
					// A flipped bit makes a small letter of a capital one in the sum,
					// which is the same sum.
					if s.Kind != devices.KindFault && (c.name != "nmea" || s.Time != want.Time) {
						t.Fatalf("%s, seed %d: %q was read as %+v, want %+v", c.name, seed, b, s, want)
					}
				}
			}
		}
	}
}

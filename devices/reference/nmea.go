// Package reference decodes what time references send.
package reference

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// NMEA describes the time sentences of NMEA 0183 (the sentences' fields from memory):
//
//	$GPRMC,120000.00,A,4717.1,N,00833.9,E,0.0,0.0,010326,,*33   time, status, …, date
//	$GPZDA,120000.00,01,03,2026,00,00*61                        time, day, month, year
//	$GPGGA,120000.00,4717.1,N,00833.9,E,1,08,1.0,499,M,,,,*2A   time, …, quality
//
// with any two letters for the talker. The two hexadecimal digits behind the * are the
// exclusive or of all bytes between $ and *. A sentence without its sum, or with a
// wrong one, comes back as a fault with its text. So does one whose time or date is
// impossible. Other sentences are passed over if their sum is right.
//
// An empty field isn't known, and never 0. A sentence without a time comes as a Time
// that has none, one without a date, as GGA always is, as a time of day. The time is
// valid if RMC's status is A or GGA's quality isn't 0. ZDA has no status: it is valid
// unless the last of the others wasn't.
//
// Many receivers also give a pulse each second on a control line. The sentences behind
// it tell which second began with it (common practice, no source). So a sentence that
// tells a whole second, and begins within a second after the pulse, gives that second
// to the pulse's edge: its time carries the edge's stamp, and says so. Any other
// carries the stamp of its own first byte. After any fault of the line the pulse must
// be learnt anew.
//
// A time carries the sentence as received.
func NMEA() devices.Format {
	return devices.Format{
		Name: "nmea", Title: "time sentences, NMEA 0183", Instrument: "reference",
		New: func(quantity.Unit) devices.Decoder {
			d := &nmea{}
			d.Decoder = lines.NewDecoder(d.line)
			return d
		},
		Baud:        4800,
		Recognition: devices.Recognition{Rank: devices.RankNamed, Frames: 1},
		Silent: func(line []byte) bool {
			body, ok := checked(line)
			return ok && subject(body) == ""
		},
	}
}

type nmea struct {
	*lines.Decoder
	disowned bool // the last RMC or GGA said that it isn't valid
	pulse    pulse
}

func (d *nmea) Decode(dst []devices.Said, c devices.Chunk) []devices.Said {
	switch {
	case c.Fault != "":
		d.pulse = pulse{} // a host that slept has lost count of its seconds too
	case c.Changed != 0:
		d.pulse.edge(c)
	}
	return d.Decoder.Decode(dst, c)
}

// DecodesPins makes it a devices.PinDecoder.
func (*nmea) DecodesPins() {}

func (d *nmea) line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	body, ok := checked(line)
	if !ok {
		return append(dst, lines.Fault(at, devices.FaultGarbage, line, "no time sentence, or its sum is wrong"))
	}
	f := strings.Split(body, ",")
	var t devices.Time
	switch subject(body) {
	case "RMC":
		t, ok = d.rmc(f)
	case "ZDA":
		t, ok = d.zda(f)
	case "GGA":
		t, ok = d.gga(f)
	default:
		return dst
	}
	if !ok {
		return append(dst, lines.Fault(at, devices.FaultRange, line, "there is no such time or date"))
	}
	if t.Has && t.Nanos%second == 0 {
		if edge, ok := d.pulse.of(at.Mono); ok {
			at, t.ByPulse = edge, true
		}
	}
	return append(dst, devices.Said{Kind: devices.KindTime, At: at, Text: string(line), Time: t})
}

// checked returns what stands between $ and *; false if the sum behind it is wrong.
func checked(line []byte) (string, bool) {
	n := len(line)
	if n < 4 || line[0] != '$' || line[n-3] != '*' {
		return "", false
	}
	want, err := strconv.ParseUint(string(line[n-2:]), 16, 8)
	if err != nil {
		return "", false
	}
	var sum byte
	for _, b := range line[1 : n-3] {
		sum ^= b
	}
	return string(line[1 : n-3]), sum == byte(want)
}

// subject returns RMC, ZDA or GGA; "" for a sentence that doesn't tell the time.
func subject(body string) string {
	address, _, _ := strings.Cut(body, ",")
	if len(address) != 5 || !slices.Contains([]string{"RMC", "ZDA", "GGA"}, address[2:]) {
		return ""
	}
	return address[2:]
}

func (d *nmea) rmc(f []string) (devices.Time, bool) {
	if len(f) < 10 {
		return devices.Time{}, false
	}
	d.disowned = f[2] != "A"
	date := f[9]
	if date == "" {
		return d.at(f[1], "", "", "")
	}
	if len(date) != 6 {
		return devices.Time{}, false
	}
	century := "20"
	if date[4] >= '8' { // the format is of 1983
		century = "19"
	}
	return d.at(f[1], date[:2], date[2:4], century+date[4:])
}

func (d *nmea) zda(f []string) (devices.Time, bool) {
	if len(f) < 5 {
		return devices.Time{}, false
	}
	return d.at(f[1], f[2], f[3], f[4])
}

func (d *nmea) gga(f []string) (devices.Time, bool) {
	if len(f) < 7 {
		return devices.Time{}, false
	}
	d.disowned = f[6] == "0" || f[6] == ""
	return d.at(f[1], "", "", "")
}

// at returns the time of a sentence's fields; false if one of them is neither empty
// nor a number, or if there is no such day.
func (d *nmea) at(clock, day, month, year string) (devices.Time, bool) {
	if clock == "" {
		return devices.Time{}, true
	}
	ofDay, ok := timeOfDay(clock)
	if !ok {
		return devices.Time{}, false
	}
	t := devices.Time{Nanos: ofDay, Has: true, OfDay: true, Valid: !d.disowned}
	if day == "" || month == "" || year == "" {
		return t, true
	}
	var n [3]int64
	for i, s := range []string{day, month, year} {
		if n[i], ok = digits(s); !ok {
			return devices.Time{}, false
		}
	}
	midnight := time.Date(int(n[2]), time.Month(n[1]), int(n[0]), 0, 0, 0, 0, time.UTC)
	if n[2] < 1980 || n[2] > 2200 || midnight.Day() != int(n[0]) || midnight.Month() != time.Month(n[1]) {
		return devices.Time{}, false
	}
	t.OfDay, t.Nanos = false, midnight.UnixNano()+ofDay
	return t, true
}

// timeOfDay reads hhmmss with decimals or none, in nanoseconds since midnight. A
// leap second is the second after 59.
func timeOfDay(s string) (int64, bool) {
	whole, decimals, point := strings.Cut(s, ".")
	if len(whole) != 6 || len(decimals) > 9 || point && decimals == "" {
		return 0, false
	}
	h, ok1 := digits(whole[:2])
	m, ok2 := digits(whole[2:4])
	sec, ok3 := digits(whole[4:])
	ns, ok4 := digits((decimals + "000000000")[:9])
	if !ok1 || !ok2 || !ok3 || !ok4 || h > 23 || m > 59 || sec > 60 {
		return 0, false
	}
	return ((h*60+m)*60+sec)*1e9 + ns, true
}

// digits reads a number of at most nine digits and nothing else.
func digits(s string) (int64, bool) {
	n, err := strconv.ParseUint(s, 10, 31)
	return int64(n), err == nil && len(s) <= 9
}

package beat

import (
	"bytes"
	"time"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// UTCLines describes a line a beat with the time of the beat, in Unix seconds with
// decimals or by RFC 3339. "1772366400.123456" and "2026-03-01T12:00:00.123456Z" are
// the same beat. Common practice, no source.
//
// A beat's count is nanoseconds since 1970-01-01 UTC: a counter of 64 bits at 1 GHz.
// Decimals past the ninth are cut off. RFC 3339 lets its T and Z be small letters.
func UTCLines() devices.Format {
	return devices.Format{
		Name: "utc-lines", Title: "beats as lines with a time", Instrument: "beat",
		New:  func(quantity.Unit) devices.Decoder { return lines.NewDecoder(utcLine) },
		Baud: 115200, CountRate: 1e9, CountBits: 64,
		Recognition: devices.Recognition{Rank: devices.RankTime, Frames: 2, Fits: nearHost},
	}
}

// nearHost reports whether all times are within ten years of the host's, and one at
// least has decimals. Without any, they may be the counts of a counter.
func nearHost(said []devices.Said) bool {
	const years = 10 * 366 * 86400e9
	whole := true
	for _, s := range said {
		if off := float64(s.Beat.Count) - float64(s.At.UTC); off > years || off < -years {
			return false
		}
		whole = whole && s.Beat.Count%1e9 == 0
	}
	return !whole
}

// maxUnix is the last whole second whose nanoseconds an int64 holds, in 2262.
const maxUnix = 9223372035

func utcLine(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	text := lines.Trim(line)
	ns, why := unixNanos(text)
	if why == devices.FaultGarbage {
		if t, err := time.Parse(time.RFC3339Nano, string(bytes.ToUpper(text))); err == nil {
			ns, why = 0, devices.FaultRange
			if s := t.Unix(); s >= 0 && s <= maxUnix {
				ns, why = uint64(t.UnixNano()), ""
			}
		}
	}
	if why != "" {
		return append(dst, lines.Fault(at, why, line, ""))
	}
	return append(dst, devices.Said{Kind: devices.KindBeat, At: at, Beat: devices.Beat{Count: ns, HasCount: true}})
}

// unixNanos reads seconds with decimals, or none, behind a point.
func unixNanos(b []byte) (ns uint64, why devices.FaultKind) {
	s, rest, why := number(b)
	if why != "" {
		return 0, why
	}
	if s > maxUnix {
		return 0, devices.FaultRange
	}
	ns = s * 1e9
	if len(rest) == 0 {
		return ns, ""
	}
	if rest[0] != '.' || len(rest) == 1 {
		return 0, devices.FaultGarbage
	}
	place := uint64(1e8)
	for _, c := range rest[1:] {
		if !lines.IsDigit(c) {
			return 0, devices.FaultGarbage
		}
		ns += uint64(c-'0') * place
		place /= 10
	}
	return ns, ""
}

package terminal

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices"
	"evenbeat/devices/quantity"
	"evenbeat/devices/recognise"
)

// Watch shows what speaks at a port, and what it says.
type Watch struct {
	Streams
	Units quantity.System
	// SettingsFile is the file in which to keep a recognised instrument's settings.
	SettingsFile string
}

// WatchedLine is the line of JSON of one thing that arrived.
type WatchedLine struct {
	Time   string   `json:"time"`                // of arrival, RFC 3339
	Text   string   `json:"text,omitempty"`      // as it came
	Value  *float64 `json:"value_m,omitempty"`   // of a length
	Force  *float64 `json:"force_n,omitempty"`   // of a force gauge
	Torque *float64 `json:"torque_nm,omitempty"` // of a torque gauge
	Count  *uint64  `json:"count,omitempty"`     // of a beat sensor
	// UTC is the time that a reference told, with the date if it told one.
	UTC     string `json:"utc,omitempty"`
	ByPulse bool   `json:"by_pulse,omitempty"` // the reference's pulse told it, not its sentence
	Doubted bool   `json:"doubted,omitempty"`  // by the reference itself
	Fault   string `json:"fault,omitempty"`    // kind of fault
}

// SearchLine is the line of JSON that tells how far a search has come.
type SearchLine struct {
	Port    string        `json:"port"`            // its name
	State   string        `json:"state"`           // noise, between, found
	Setting string        `json:"setting"`         // speed and framing: 9600 baud 8N1
	Heard   string        `json:"heard,omitempty"` // what made no sense
	Formats []FormatLine  `json:"formats,omitempty"`
	Profile *KeptSettings `json:"profile,omitempty"`
}

// FormatLine is a wire format that fits what came.
type FormatLine struct {
	Format string  `json:"format"`    // its name
	Frames int     `json:"frames"`    // that fit
	Bits   float64 `json:"odds_bits"` // noise looks so once in 2 to this power
}

// KeptSettings are the keys of a profile, by the names that the settings file has.
type KeptSettings struct {
	Format    string  `json:"format"`               // wire format
	Baud      int     `json:"baud"`                 // bits a second
	Bits      int     `json:"bits"`                 // 7 or 8
	Parity    string  `json:"parity"`               // none, even or odd
	Stop      float64 `json:"stop"`                 // 1, 1.5 or 2
	NeedsUnit bool    `json:"needs_unit,omitempty"` // its lines name no unit: add unit to the profile
}

// Step writes how far the search at a port has come. What is found is written by
// Found, once no other port can have been faster.
func (w Watch) Step(step live.SearchStep) {
	f := step.Finding
	if f.State == recognise.Found || f.State == recognise.Unknown || f.State == recognise.Silent {
		return
	}
	if !w.JSON {
		w.Searching(step)
		if f.State == recognise.Noise {
			w.Say("    heard %.60q\n", f.Heard)
		}
		return
	}
	l := SearchLine{Port: step.Port, State: "noise", Setting: live.Framing(step.Settings), Heard: string(f.Heard)}
	if f.State == recognise.Between {
		l.State, l.Formats = "between", formatLines(f.Candidates...)
	}
	if err := w.Line("", l); err != nil {
		w.Say("  ! %v\n", err)
	}
}

func formatLines(all ...recognise.Candidate) []FormatLine {
	lines := make([]FormatLine, len(all))
	for i, c := range all {
		lines[i] = FormatLine{c.Format, c.Frames, math.Round(c.Bits*10) / 10}
	}
	return lines
}

// Found writes what was recognised and where, and what to keep of that.
func (w Watch) Found(h *recognise.Heard) error {
	s := h.Settings
	if w.JSON {
		return w.Line("", SearchLine{Port: h.Port, State: "found", Setting: live.Framing(s), Formats: formatLines(h.Candidate),
			Profile: &KeptSettings{h.Format, s.Baud, s.DataBits, h.Parity, s.StopBits, h.NeedsUnit}})
	}
	r := render.New(w.Out)
	r.Say(live.HowSure(h.Port+", "+live.Framing(s), h.Candidate) + ".")
	r.Printf("To have it known at once next time, keep these lines in %s:\n\n%s\n", w.SettingsFile, live.ProfileLines(h))
	return r.Err()
}

// Said writes what an instrument said.
func (w Watch) Said(said []devices.Said) error {
	for _, s := range said {
		if err := w.one(s); err != nil {
			return err
		}
	}
	return nil
}

func (w Watch) one(s devices.Said) error {
	line := WatchedLine{Time: utc(s.At).Format(time.RFC3339Nano), Text: s.Text, Fault: string(s.Fault)}
	meaning := ""
	switch s.Kind {
	case devices.KindReading:
		meaning = w.reading(&line, &s.Reading)
	case devices.KindBeat:
		line.Count = &s.Beat.Count
		meaning = fmt.Sprintf("beat, count %d", s.Beat.Count)
	case devices.KindAir:
		meaning = "air " + airText(s.Air)
	case devices.KindTime:
		line.UTC, line.ByPulse, line.Doubted = timeText(s.Time), s.Time.ByPulse, !s.Time.Valid
		meaning = "time " + line.UTC
		if line.Doubted {
			meaning += ", which the reference itself doubts"
		}
		if line.ByPulse {
			meaning += ", by pulse"
		}
	case devices.KindFault:
		meaning = "fault: " + line.Fault
	}
	if w.JSON {
		return w.Line("", line)
	}
	_, err := io.WriteString(w.Out, fmt.Sprintf("%s  %-24q %s\n", utc(s.At).Format("15:04:05.000"), s.Text, meaning))
	return err
}

// reading puts a reading into the line, and returns it in words.
func (w Watch) reading(line *WatchedLine, r *devices.Reading) string {
	switch r.Dim {
	case devices.DimForce:
		line.Force = &r.Value
		return quantity.Minus(fmt.Sprintf("%.6g N", r.Value))
	case devices.DimTorque:
		line.Torque = &r.Value
		return quantity.Minus(fmt.Sprintf("%.6g N·m", r.Value))
	}
	line.Value = &r.Value
	return w.Units.Size(r.Value, 3)
}

// airText writes what was measured of the air.
func airText(a devices.Air) string {
	var parts []string
	if a.HasTemperature {
		parts = append(parts, fmt.Sprintf("%g °C", a.TemperatureC))
	}
	if a.HasPressure {
		parts = append(parts, fmt.Sprintf("%g hPa", a.PressureHPa))
	}
	if a.HasHumidity {
		parts = append(parts, fmt.Sprintf("%g %%", a.HumidityPct))
	}
	return strings.Join(parts, ", ")
}

// timeText writes the time that a reference told.
func timeText(t devices.Time) string {
	switch {
	case !t.Has:
		return "not known yet"
	case t.OfDay:
		return time.Unix(0, t.Nanos).UTC().Format("15:04:05.999999999")
	}
	return time.Unix(0, t.Nanos).UTC().Format(time.RFC3339Nano)
}

func utc(s devices.Stamp) time.Time { return time.Unix(0, s.UTC).UTC() }

// Package air decodes what thermometers, barometers and hygrometers send.
package air

import (
	"strconv"
	"strings"

	"evenbeat/devices"
	"evenbeat/devices/lines"
	"evenbeat/devices/quantity"
)

// AirText describes a line with temperature, pressure and humidity, or some of them,
// in any order, in one of three forms:
//
//	21.4C 1013.2hPa 45%              each with its unit, blanks or commas between
//	t=21.4 p=1013.2 h=45             each with its name, and a unit or not
//	temperature,pressure,humidity    a line of names, and then lines of numbers
//	21.4,1013.2,45                   separated by commas; an empty one isn't known
//
// Units are C or °C, F or °F; hPa, mbar, kPa, Pa; % or %RH, in any case. Names are t,
// temp, temperature; p, press, pressure; h, hum, humidity, rh. _c, _f, _hpa, _kpa, _pa
// or _pct behind a name gives the unit; without it that is °C, hPa or %. Columns of
// other names are passed over. The decimal sign is a point. Common practice, no
// source.
//
// A line of names says nothing by itself. A sample carries the line as received.
// Other lines come back as faults with their text.
func AirText() devices.Format {
	return devices.Format{
		Name: "air-text", Title: "air as text", Instrument: "air",
		New: func(quantity.Unit) devices.Decoder { return lines.NewDecoder(new(airText).line) },
		Recognition: devices.Recognition{
			Rank: devices.RankNamed, Frames: 2, WeighText: lines.Alike, Need: devices.NeedShape,
		},
		Silent: func(line []byte) bool { return header(string(lines.Trim(line))) != nil },
	}
}

// airText holds the columns of the last line of names.
type airText struct{ columns []column }

// column is one field of a line: what it measures and in which unit. Both are empty
// for anything else.
type column struct{ what, unit string }

const (
	temperature = "temperature"
	pressure    = "pressure"
	humidity    = "humidity"
)

func (d *airText) line(dst []devices.Said, line []byte, at devices.Stamp) []devices.Said {
	text := string(lines.Trim(line))
	if c := header(text); c != nil {
		d.columns = c
		return dst
	}
	a, why := d.row(text)
	if why == devices.FaultGarbage {
		a, why = fields(text)
	}
	if why == "" && !a.HasTemperature && !a.HasPressure && !a.HasHumidity {
		why = devices.FaultGarbage
	}
	if why != "" {
		return append(dst, lines.Fault(at, why, line, ""))
	}
	return append(dst, devices.Said{Kind: devices.KindAir, At: at, Text: string(line), Air: a})
}

// header returns the columns of a line of names; nil if it isn't one.
func header(text string) []column {
	var columns []column
	known := false
	for name := range strings.SplitSeq(text, ",") {
		name = strings.TrimSpace(name)
		if name == "" || !lines.IsLetter(name[0]) || strings.ContainsRune(name, '=') {
			return nil
		}
		c := columnOf(name)
		known = known || c.what != ""
		columns = append(columns, c)
	}
	if !known {
		return nil
	}
	return columns
}

// columnOf returns what a name stands for.
func columnOf(name string) column {
	base, unit, _ := strings.Cut(strings.ToLower(name), "_")
	if unit == "pct" {
		unit = "%"
	}
	c := column{unit: unit}
	switch base {
	case "t", "temp", temperature:
		c.what = temperature
	case "p", "press", pressure:
		c.what = pressure
	case "h", "hum", "rh", humidity:
		c.what = humidity
	}
	return c
}

// row reads the numbers under a line of names.
func (d *airText) row(text string) (a devices.Air, why devices.FaultKind) {
	if d.columns == nil || strings.Count(text, ",") != len(d.columns)-1 {
		return a, devices.FaultGarbage
	}
	i := 0
	for field := range strings.SplitSeq(text, ",") {
		c := d.columns[i]
		i++
		if field = strings.TrimSpace(field); c.what == "" || field == "" {
			continue
		}
		if why := set(&a, c, field); why != "" {
			return a, why
		}
	}
	return a, ""
}

// fields reads a line whose fields each say what they are.
func fields(text string) (a devices.Air, why devices.FaultKind) {
	words := strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\t' || r == ',' || r == ';' })
	for i := 0; i < len(words); i++ {
		field, c := words[i], column{}
		if name, value, ok := strings.Cut(field, "="); ok {
			if c = columnOf(name); c.what == "" {
				return a, devices.FaultGarbage
			}
			field = value
		}
		if i+1 < len(words) && measures(words[i+1]) != "" { // "21.4 C"
			field += words[i+1]
			i++
		}
		if why := set(&a, c, field); why != "" {
			return a, why
		}
	}
	return a, ""
}

// measures returns what a unit is of; "" if it isn't known.
func measures(unit string) string {
	switch plain(unit) {
	case "c", "f":
		return temperature
	case "hpa", "mbar", "kpa", "pa":
		return pressure
	case "%", "%rh":
		return humidity
	}
	return ""
}

// plain returns a unit in small letters, without a sign for degrees, which comes in
// UTF-8 or as the one byte of ISO 8859-1.
func plain(unit string) string {
	return strings.ToLower(strings.TrimPrefix(strings.TrimPrefix(unit, "°"), "\xb0"))
}

// set reads a number, with its unit or in the column's, into a.
func set(a *devices.Air, c column, field string) devices.FaultKind {
	const maxDigits = 12
	number, unit := lines.Number(field, maxDigits)
	if unit == "" {
		unit = c.unit
	}
	v, err := strconv.ParseFloat(number, 64)
	what := measures(unit)
	if unit == "" {
		what = c.what
	}
	if err != nil || what == "" || c.what != "" && c.what != what {
		return devices.FaultGarbage
	}
	var at *float64
	var has *bool
	var may quantity.Range
	switch what {
	case temperature:
		at, has, may = &a.TemperatureC, &a.HasTemperature, quantity.Celsius
	case pressure:
		at, has, may = &a.PressureHPa, &a.HasPressure, quantity.Hectopascal
	case humidity:
		at, has, may = &a.HumidityPct, &a.HasHumidity, quantity.PercentHumidity
	}
	if *has {
		return devices.FaultGarbage // the same thing twice
	}
	if v = convert(v, unit); !may.Holds(v) {
		return devices.FaultRange
	}
	*at, *has = v, true
	return ""
}

// convert returns v, in a unit, in °C, hPa or %.
func convert(v float64, unit string) float64 {
	switch plain(unit) {
	case "f":
		return (v - 32) / 1.8
	case "kpa":
		return v * 10
	case "pa":
		return v / 100
	}
	return v
}

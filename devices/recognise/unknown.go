package recognise

import (
	"fmt"
	"math"
	"slices"

	"evenbeat/devices"
	"evenbeat/devices/formats"
	"evenbeat/devices/quantity"
)

// UnknownError says that no format fits what arrives, at any settings.
type UnknownError struct {
	Port     string
	Settings int
	Heard    []byte // the latest bytes
}

func (e *UnknownError) Error() string {
	return fmt.Sprintf("port %s: no wire format fits what arrives, at any of %d settings; the last was %.60q: keep it with evenbeat capture %[1]s --out FILE, or name the instrument's profile (see evenbeat ports profiles)",
		e.Port, e.Settings, e.Heard)
}

// conclude says what to make of bytes that no settings made sense of.
func (l *listener) conclude() (*Heard, error) {
	const asBeats = "byte-beats"
	f, err := formats.Named(asBeats)
	if err != nil {
		return nil, err
	}
	var said []devices.Said
	d := f.New(quantity.NoUnit)
	for _, c := range l.all {
		said = d.Decode(said, c)
	}
	unknown := &UnknownError{l.name, len(l.Settings), l.r.latest()}
	if !paced(said) || l.Wanted != nil && !l.Wanted(asBeats) {
		return nil, unknown
	}
	l.settings, l.noise, l.r.chunks = l.Settings[0], nil, l.all
	line, err := l.Open(l.name, l.settings)
	if err != nil {
		return nil, err
	}
	c := Candidate{Format: asBeats, DataBits: 8, Parity: "none", Frames: len(said)}
	if l.Tell != nil {
		l.Tell(l.name, l.settings, Finding{State: Unknown, Candidates: []Candidate{c}, Heard: unknown.Heard})
	}
	return l.heard(c, line), nil
}

// paced reports whether beats come at a clock's pace: most intervals are within a tenth
// of their median, of 0.05 to 3 s. Some beats were missed while a port was opened anew.
func paced(said []devices.Said) bool {
	var steps []float64
	for i := 1; i < len(said); i++ {
		steps = append(steps, float64(said[i].At.Mono-said[i-1].At.Mono)*1e-9)
	}
	if len(steps) < fewestSteps {
		return false
	}
	slices.Sort(steps)
	middle := steps[len(steps)/2]
	alike := 0
	for _, s := range steps {
		if math.Abs(s-middle) <= middle/10 {
			alike++
		}
	}
	return middle >= 0.05 && middle <= 3 && 3*alike >= 2*len(steps)
}

// fewestSteps is how many intervals show a pace.
const fewestSteps = 8

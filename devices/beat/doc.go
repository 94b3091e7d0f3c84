// Package beat decodes what beat sensors send: a count, an interval or a time for
// each beat, or nothing but a byte or a change of a control line.
//
// A beat has the host's stamp of its first byte and, where the format has one, the
// sensor's own count. What a count is worth in seconds isn't known here: the sensor's
// resonator may be off, and the counter wraps. Lines that tell no beat come back as
// faults with their text.
package beat

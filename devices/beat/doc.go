// Package beat decodes what beat sensors send: a count, an interval or a time for
// each beat, or nothing but a byte or a change of a control line.
//
// The beats' times are the host's stamp and, where the format has one, the
// sensor's own count. What a count is worth in seconds isn't known here: the
// sensor's resonator may be off, and the counter wraps.
package beat

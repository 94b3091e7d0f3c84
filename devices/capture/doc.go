// Package capture keeps what arrived at a port as text, reads it again, and plays it
// back as an instrument on a pseudo-terminal.
//
// A capture is lines of text, in order of arrival:
//
//	# anything                           a remark
//	@+0 2026-03-01T12:00:00.123456789Z   what the host's clock showed at this offset
//	+1.204311 "63,4"                     bytes, in Go's quotes
//	+1.254311 ""                         nothing came up to here
//	+2.5 !unplugged "the port went away" a fault of the line
//	+3.75 ^cts,dcd cts                   cts and dcd changed, and cts alone is on
//	+3.8 ^dcd -                          dcd changed, and none is on
//
// Offsets are in seconds of the host's monotonic time since the first chunk, with up
// to nine decimals, and never go back. The clock line comes first. Another follows
// wherever the host's clock differs by more than a microsecond from what the last one
// leads to, so that steps of the clock are kept, and stamps to a microsecond. A fault's
// name has a hyphen for each blank. Empty lines mean nothing.
package capture

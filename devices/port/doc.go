// Package port opens serial ports and delivers what arrives there, stamped. It is
// the only package beneath devices that opens a device or reads a clock.
//
// One goroutine owns a port: the one that is in Run. It alone reads, writes and
// closes. In go.bug.st/serial v1.8.0 a Close during a Read lets that Read take bytes
// of another file, and a Write after Close goes to whatever file got the descriptor
// number. Reads end after 50 ms, so that the owner is never stuck.
package port

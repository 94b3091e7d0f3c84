//go:build !unix

package port

import (
	"strings"

	"go.bug.st/serial"
)

// follow returns a port's name as [List] has it. There are no links to ports here, and to
// ask for one would open the port.
func follow(name string) string { return strings.ToUpper(strings.TrimPrefix(name, `\\.\`)) }

// lock does nothing here: the system itself lets a port be opened only once.
type lock struct{}

func acquire(string) (*lock, error) { return &lock{}, nil }

func (*lock) write(p serial.Port, b []byte) (int, error) { return p.Write(b) }

func (*lock) close() error { return nil }

func isBusy(error) bool { return false }

func hasNoPins(error) bool { return false }

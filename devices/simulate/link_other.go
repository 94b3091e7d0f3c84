//go:build !unix

package simulate

// Pair makes a pipe within the process: this system has no pseudo-terminals.
func Pair() (*Link, error) { return pipe(), nil }

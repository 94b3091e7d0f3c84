// Package pseudo makes pseudo-terminals, at one end of which an instrument is played.
package pseudo

import "errors"

// ErrNone is the error of a system without pseudo-terminals, such as a bare jail.
var ErrNone = errors.New("this system has no pseudo-terminals to play on")

//go:build !unix

package pseudo

import "os"

// Terminal fails with ErrNone.
func Terminal() (instrument, far *os.File, err error) { return nil, nil, ErrNone }

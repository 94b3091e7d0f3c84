//go:build !linux

package port

import "errors"

// Waker returns an error: the system can't wait for a change, or the serial library
// hides its way to.
func (*opened) Waker() (waker, error) { return nil, errors.ErrUnsupported }

//go:build !linux

package port

import "errors"

// Waker returns an error: the system has no such wait, or the serial library doesn't
// let us at it.
func (*opened) Waker() (waker, error) { return nil, errors.ErrUnsupported }

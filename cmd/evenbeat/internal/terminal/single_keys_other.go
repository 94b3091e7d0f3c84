//go:build !linux && !darwin && !windows

package terminal

import "errors"

// singleKeys isn't offered here: keys are followed by Enter.
func singleKeys(int) (restore func() error, err error) {
	return nil, errors.New("single keys are not read on this system")
}

//go:build !unix

package capture

import (
	"context"

	"evenbeat/devices/pseudo"
)

// terminal is never made here.
type terminal struct{ name string }

func openTerminal() (*terminal, error) { return nil, pseudo.ErrNone }

func (*terminal) hasReader() (bool, error) { return false, nil }

func (*terminal) write(context.Context, []byte) error { return nil }

func (*terminal) close() error { return nil }

//go:build !linux

package live

import "evenbeat/sessions"

// HostClock knows nothing here: the system offers no call that tells it.
func HostClock() sessions.Timing { return sessions.Timing{} }

// ReadHost tells nothing here either.
func ReadHost() (sessions.HostReading, bool) { return sessions.HostReading{}, false }

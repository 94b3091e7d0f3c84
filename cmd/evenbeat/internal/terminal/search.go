package terminal

import "evenbeat/cmd/evenbeat/internal/live"

// Searching tells how far the search for an instrument has come.
func (s Streams) Searching(step live.SearchStep) {
	if words := step.String(); words != "" {
		s.Say("  %s\n", words)
	}
}

// PassedOver tells of a port that auto passes over.
func (s Streams) PassedOver(err error) { s.Say("  ! passed over: %v\n", err) }

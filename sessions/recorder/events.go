package recorder

import (
	"evenbeat/sessions"
	"evenbeat/sessions/plan"
)

// Command is what the clockmaker asks for by key.
type Command uint8

// The commands; the zero value is none.
const (
	Undo   Command = iota + 1 // take back the last reading, skip or repeat
	Skip                      // leave what the present dimension still wants
	Repeat                    // one more reading of the last dimension
	Finish                    // end the session
)

// Kind is what an event tells of.
type Kind string

// The kinds of event. All but Skipped, Repeated, Jumped, NothingToDo and Waits tell of
// something that is in the book.
const (
	Kept        Kind = "kept"          // Reading
	Doubtful    Kind = "doubtful"      // Reading, which is asked for again
	Undone      Kind = "undone"        // Undone was taken back; 0 for a skip or repeat. Reading is of the jaws that did it, if they did
	Skipped     Kind = "skipped"       // the plan goes on without the rest of Dimension
	Repeated    Kind = "repeated"      // one more of Dimension is wanted
	Jumped      Kind = "jumped"        // the plan goes on at Dimension
	NothingToDo Kind = "nothing to do" // the command had nothing to act on
	Faulty      Kind = "fault"         // Fault
	Replaced    Kind = "replaced"      // Note, by which earlier readings no longer count
	Beats       Kind = "beats"         // Beats
	References  Kind = "references"    // References
	Aired       Kind = "air"           // Air, the mean of as many samples as Times says
	Waits       Kind = "waits"         // the disk is full, and what comes is kept in memory: Fault tells, and isn't in the book
)

// Event is one thing that happened in a session.
type Event struct {
	Kind      Kind
	Reading   sessions.Reading
	Undone    int64
	Note      int64
	Dimension string
	Fault     sessions.Fault
	Air       sessions.Air
	Times     int // how many faults or samples that stands for
	// Beats and References are written over once the event has been told.
	Beats      []sessions.Beat
	References []sessions.Reference
	// Next is what a measuring plan wants now; its String is "" once the plan is
	// through.
	Next plan.Ask
	Left plan.Left
}

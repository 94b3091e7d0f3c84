package analysis

import (
	"fmt"
	"iter"
	"time"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// Run is timing sessions of one clock that are read as one, as of a week that power cuts
// broke in pieces. Each session is a stretch with a start of its own, since the computer's
// clock may have been set between them. What a time reference told, and what is remembered
// of the computer's crystal, hold for one session alone and are left out.
type Run struct {
	// Session is the first, with what all of them know of the computer's clock.
	Session sessions.Session
	// LongestS is the length of the longest session in seconds: over no longer time can the
	// computer's clock have been steady for all of them.
	LongestS float64

	ids    []int64
	shifts []int64 // of each session's stamps, nanoseconds
	beats  func(session int64) iter.Seq2[[]sessions.Beat, error]
}

// Join makes a run of sessions, oldest first, whose beats it looks through. It fails with a
// *quantity.InputError for sessions that can't be one run: of another sensor or rate of
// count, imported, one begun before the other ended, or all without a beat.
func Join(all []sessions.Session, beats func(session int64) iter.Seq2[[]sessions.Beat, error]) (Run, error) {
	r := Run{Session: all[0], beats: beats}
	var first, last sessions.Beat
	bounded := true
	for _, s := range all {
		if s.Imported() || s.Profile != all[0].Profile || s.Timing.CountRate != all[0].Timing.CountRate || s.Timing.CountBits != all[0].Timing.CountBits {
			return r, quantity.BadInput("session", s.ID, fmt.Sprintf("was not recorded with the sensor of session %d: the two are no one run", all[0].ID))
		}
		begins, ends, n, err := endsOf(beats(s.ID))
		if err != nil {
			return r, err
		}
		if n == 0 {
			continue
		}
		if len(r.ids) == 0 {
			first = begins
		}
		shift := (begins.HostUTC - begins.HostMono) - (first.HostUTC - first.HostMono)
		if len(r.ids) > 0 && begins.HostMono+shift <= last.HostMono {
			return r, quantity.BadInput("session", s.ID, fmt.Sprintf("began before session %d ended, by this computer's clock: they are no one run", r.ids[len(r.ids)-1]))
		}
		last = ends
		last.HostMono += shift
		r.ids, r.shifts = append(r.ids, s.ID), append(r.shifts, shift)
		r.LongestS = max(r.LongestS, time.Duration(ends.HostMono-begins.HostMono).Seconds())
		t := &r.Session.Timing
		t.HostKnown, t.HostSynced = t.HostKnown && s.Timing.HostKnown, t.HostSynced && s.Timing.HostSynced
		if t.HostMaxErrorS = max(t.HostMaxErrorS, s.Timing.HostMaxErrorS); s.Timing.HostMaxErrorS == 0 {
			bounded = false
		}
		r.Session.Ended = s.Ended
	}
	if len(r.ids) == 0 {
		return r, quantity.BadInput("session", all[0].ID, "holds no beat, and none of the others does")
	}
	if !bounded {
		r.Session.Timing.HostMaxErrorS = 0 // of one of them it isn't known
	}
	return r, nil
}

// endsOf returns the first and the last beat, and how many there are.
func endsOf(beats iter.Seq2[[]sessions.Beat, error]) (first, last sessions.Beat, n int, err error) {
	for chunk, err := range beats {
		if err != nil {
			return first, last, n, err
		}
		if n == 0 && len(chunk) > 0 {
			first = chunk[0]
		}
		if n += len(chunk); len(chunk) > 0 {
			last = chunk[len(chunk)-1]
		}
	}
	return first, last, n, nil
}

// Sessions are the numbers of those that hold beats.
func (r Run) Sessions() []int64 { return r.ids }

// Beats walks through the beats of all sessions, chunk by chunk. An error ends the walk.
func (r Run) Beats() iter.Seq2[[]sessions.Beat, error] {
	return func(yield func([]sessions.Beat, error) bool) {
		for i, id := range r.ids {
			begins := true
			for chunk, err := range r.beats(id) {
				for j := range chunk {
					chunk[j].HostMono += r.shifts[i]
				}
				if begins && len(chunk) > 0 {
					chunk[0].Break, begins = true, false
				}
				if !yield(chunk, err) || err != nil {
					return
				}
			}
		}
	}
}

package recorder

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"

	"evenbeat/sessions"
)

const (
	// faultsEvery is the least time between two rows of faults, once they come faster.
	faultsEvery = time.Second
	// faultText bounds the text of such a row, in bytes. It has room for every line of a
	// clock of ten beats a second that is read in the wrong format.
	faultText = 512
)

// faults makes one row of many faults, so that a flood of them neither fills the book nor
// holds up what comes behind it. The first of a kind is a row of its own at once. Those
// of its kind within a second of another are gathered, and a row goes out each second.
type faults struct {
	ready []Event              // to be written
	held  []gathered           // one a kind, the oldest first
	seen  map[string]time.Time // when each kind came last
	row   time.Time            // when the last row went out
	timer *time.Timer          // runs while any are held
}

// gathered are the faults of one kind that become one row.
type gathered struct {
	first sessions.Fault
	last  time.Time
	times int
	text  []byte
	cut   bool
}

func newFaults() *faults {
	f := &faults{seen: map[string]time.Time{}, timer: time.NewTimer(faultsEvery)}
	f.timer.Stop()
	return f
}

// within reports whether less than faultsEvery lies between two times. A host's clock that
// was put back is no reason to wait.
func within(from, to time.Time) bool { return !to.Before(from) && to.Sub(from) < faultsEvery }

// add takes a fault.
func (f *faults) add(x sessions.Fault) {
	if len(f.held) > 0 && !within(f.row, x.At) {
		f.next(x.At)
	}
	before, seen := f.seen[x.Kind]
	f.seen[x.Kind] = x.At
	at := slices.IndexFunc(f.held, func(g gathered) bool { return g.first.Kind == x.Kind })
	switch {
	case at >= 0:
		f.held[at].add(x)
	case seen && within(before, x.At):
		f.held = append(f.held, gathered{first: x})
		f.held[len(f.held)-1].add(x)
		if len(f.held) == 1 {
			f.timer.Reset(faultsEvery)
		}
	default:
		f.ready, f.row = append(f.ready, Event{Kind: Faulty, Fault: x, Times: 1}), x.At
	}
}

// next has the oldest of what is held written.
func (f *faults) next(now time.Time) {
	f.ready, f.row = append(f.ready, f.held[0].event()), now
	if f.held = f.held[1:]; len(f.held) > 0 {
		f.timer.Reset(faultsEvery)
	} else {
		f.timer.Stop()
	}
}

// ripen has the oldest of what is held written once nothing more comes to push it out.
func (f *faults) ripen() {
	if len(f.held) > 0 {
		f.next(f.held[0].last)
	}
}

// end has all that is held written.
func (f *faults) end() {
	for len(f.held) > 0 {
		f.ripen()
	}
}

// unkept is how many came that aren't in the book.
func (f *faults) unkept() (n int) {
	for _, e := range f.ready {
		n += e.Times
	}
	for _, g := range f.held {
		n += g.times
	}
	return n
}

func (g *gathered) add(x sessions.Fault) {
	text := x.Text
	if g.times > 0 {
		text = fmt.Sprintf("; +%s %s", strconv.FormatFloat(x.At.Sub(g.first.At).Round(time.Microsecond).Seconds(), 'f', -1, 64), x.Text)
	}
	g.times, g.last = g.times+1, x.At
	if g.cut = g.cut || g.times > 1 && len(g.text)+len(text) > faultText; !g.cut {
		g.text = append(g.text, text...)
	}
}

// several is what opens the text of a row of several faults: how many, and when the last
// came. Behind it are their texts, each but the first with how many seconds later it came.
const several = "%d times up to %s UTC: "

func (g *gathered) event() Event {
	x := g.first
	if g.times > 1 {
		x.Text = fmt.Sprintf(several, g.times, g.last.Format("15:04:05.000")) + string(g.text)
	}
	if g.cut {
		x.Text += "; …"
	}
	return Event{Kind: Faulty, Fault: x, Times: g.times}
}

// Apart returns the faults that a row of the book stands for, as far as it keeps their
// texts.
func Apart(row sessions.Fault) []sessions.Fault {
	rest := row.Text
	var n int
	var last string
	if got, _ := fmt.Sscanf(rest, several, &n, &last); got < 2 {
		return []sessions.Fault{row}
	}
	_, rest, _ = strings.Cut(rest, " UTC: ")
	var all []sessions.Fault
	for x, more := row, true; more; {
		quoted, _ := strconv.QuotedPrefix(rest)
		why, next, another := strings.Cut(rest[len(quoted):], "; +")
		x.Text = quoted + strings.TrimSuffix(why, "; …")
		all = append(all, x)
		seconds, text, _ := strings.Cut(next, " ")
		after, err := time.ParseDuration(seconds + "s")
		x.At, rest, more = row.At.Add(after), text, another && err == nil
	}
	return all
}

// flush writes what is ready.
func (f *faults) flush(ctx context.Context, store faultStore, log zerolog.Logger, tell func(Event) error) error {
	for len(f.ready) > 0 {
		if err := keepFault(ctx, store, log, tell, f.ready[0]); err != nil {
			return err
		}
		f.ready = f.ready[1:]
	}
	return nil
}

type faultStore interface {
	AddFault(ctx context.Context, f sessions.Fault) (int64, error)
}

// keepFault writes one row, and tells of it.
func keepFault(ctx context.Context, store faultStore, log zerolog.Logger, tell func(Event) error, e Event) (err error) {
	if e.Fault.ID, err = store.AddFault(ctx, e.Fault); err != nil {
		return err
	}
	log.Debug().Int64("session", e.Fault.SessionID).Str("fault", e.Fault.Kind).Str("text", e.Fault.Text).Msg("fault in the book")
	e.Kind = Faulty
	return tell(e)
}

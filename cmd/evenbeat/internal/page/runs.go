package page

import (
	"context"
	"errors"
	"iter"
	"net/http"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/sessions/book"
)

// runs are the sessions that the page has started. They go on when nobody looks, until
// they are finished or the page ends.
type runs struct {
	mu      sync.Mutex
	ctx     context.Context // of all of them
	all     []*run          // one of a kind for each clock: one that has ended until the next begins
	changed chan struct{}   // closed when one begins or ends
	going   sync.WaitGroup
}

// run is a session that the page has started.
type run struct {
	kind  string // sessions.SessionMeasure or SessionTime
	clock int64
	ports []string
	over  bool
	face
	measuring *live.Measuring // nil in timing
	timing    *live.Timing    // nil in measuring
}

// face is what a browser sees of a session.
type face interface {
	Seq() int64
	State() *live.State
	Subscribe(ctx context.Context) iter.Seq[live.Event]
}

// begin says until when sessions may go on.
func (all *runs) begin(ctx context.Context) {
	all.mu.Lock()
	defer all.mu.Unlock()
	all.ctx = ctx
}

// wait waits until all sessions have ended in the book, but no longer than most.
func (all *runs) wait(most time.Duration) {
	ended := make(chan struct{})
	go func() {
		all.going.Wait()
		close(ended)
	}()
	select {
	case <-ended:
	case <-time.After(most):
	}
}

// of returns the session of a kind for a clock, nil if there is none, and what is closed
// when that changes.
func (all *runs) of(kind string, clock int64) (*run, <-chan struct{}) {
	all.mu.Lock()
	defer all.mu.Unlock()
	if all.changed == nil {
		all.changed = make(chan struct{})
	}
	for _, r := range all.all {
		if r.kind == kind && r.clock == clock && r.face != nil {
			return r, all.changed
		}
	}
	return nil, all.changed
}

// goes returns the session of a kind for a clock that goes on, nil if there is none.
func (all *runs) goes(kind string, clock int64) *run {
	r, _ := all.of(kind, clock)
	if r == nil || r.State().Over {
		return nil
	}
	return r
}

// preparing makes a session ready with the book, and returns what runs it.
type preparing func(context.Context, *book.Book) (func(context.Context) error, error)

// begin starts a session as a form says, or shows the form again with what is wrong.
func (p *Page) begin(w http.ResponseWriter, r *http.Request, f form, one *run, prepare preparing, again func(http.ResponseWriter, *http.Request, int, form) error) error {
	if !f.Bad() {
		err := p.start(one, prepare)
		if err == nil {
			p.goTo(w, r, r.URL.Path, "begun")
			return nil
		}
		if !isCall(err) {
			return err
		}
		f.Fault("port", refuse(0, "%s", p.why(err)))
	}
	return again(w, looking(r), http.StatusUnprocessableEntity, f)
}

// start has a session begin. A clock has one session of a kind at a time, and so has a port.
func (p *Page) start(r *run, prepare preparing) error {
	if err := p.runs.claim(r); err != nil {
		return err
	}
	ctx := p.runs.ctx
	began := make(chan error, 1)
	p.runs.going.Go(func() {
		err := p.Write(ctx, func(b *book.Book) error {
			do, err := prepare(ctx, b)
			if err == nil {
				p.runs.tell()
			}
			began <- err
			if err != nil {
				return nil
			}
			return do(ctx)
		})
		p.runs.ended(r)
		select {
		case began <- err: // the book can't be opened
		default:
			if err != nil {
				p.Log.Error().Err(err).Str("kind", r.kind).Msg("bench page: a session has ended")
			}
		}
	})
	return <-began
}

// claim takes clock and ports for a session.
func (all *runs) claim(r *run) error {
	all.mu.Lock()
	defer all.mu.Unlock()
	if all.ctx == nil || all.ctx.Err() != nil {
		return refuse(http.StatusServiceUnavailable, "The page has ended.")
	}
	for _, o := range all.all {
		if o.over {
			continue
		}
		if o.kind == r.kind && o.clock == r.clock {
			return refuse(http.StatusConflict, "A session of this kind is already running for this clock: finish it first.")
		}
		for _, name := range r.ports {
			if slices.Contains(o.ports, name) {
				return refuse(http.StatusConflict, "Another session of this page listens at %s: finish it first.", name)
			}
		}
	}
	all.all = slices.DeleteFunc(all.all, func(o *run) bool { return o.kind == r.kind && o.clock == r.clock })
	all.all = append(all.all, r)
	return nil
}

func (all *runs) ended(r *run) {
	all.mu.Lock()
	r.over = true
	if r.face == nil { // it never began
		all.all = slices.DeleteFunc(all.all, func(o *run) bool { return o == r })
	}
	all.mu.Unlock()
	all.tell()
}

// put gives a session its face.
func (all *runs) put(set func()) {
	all.mu.Lock()
	defer all.mu.Unlock()
	set()
}

// tell tells that a session has begun or ended.
func (all *runs) tell() {
	all.mu.Lock()
	defer all.mu.Unlock()
	if all.changed != nil {
		close(all.changed)
		all.changed = nil
	}
}

// answers waits, after a command was given by do, until the session tells what became of
// it: one of the kinds.
func (r *run) answers(ctx context.Context, done func(live.Event) bool, do func(context.Context) error) error {
	ctx, stop := context.WithTimeout(ctx, 2*time.Second)
	defer stop()
	events := r.Subscribe(ctx)
	if err := do(ctx); err != nil && !errors.Is(err, live.ErrOver) {
		return err
	}
	for e := range events {
		if e.Kind == live.Ended || e.State != nil && e.State.Over || done(e) {
			break
		}
	}
	return nil
}

// why says in words why a session ended, or what else went wrong with it.
func (p *Page) why(err error) string {
	if call, ok := errors.AsType[*live.CallError](err); ok {
		return p.unplaced(call.Error())
	}
	return p.unplaced(err.Error())
}

// looking is a request that only looks, after what it posted was refused.
func looking(r *http.Request) *http.Request {
	r = r.Clone(r.Context())
	r.Method = http.MethodGet
	return r
}

func isCall(err error) bool {
	_, ok := errors.AsType[*live.CallError](err)
	return ok
}

// sentence writes a remark as a sentence of its own.
func sentence(remark string) string {
	first, n := utf8.DecodeRuneInString(remark)
	s := string(unicode.ToUpper(first)) + remark[n:]
	if strings.HasSuffix(s, "?") || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// unplaced is a text that tells no place on the disk.
func (p *Page) unplaced(text string) string {
	book := p.Settings.Book
	if abs, err := filepath.Abs(book); err == nil {
		text = strings.ReplaceAll(text, filepath.Dir(abs)+string(filepath.Separator), "")
	}
	return strings.ReplaceAll(text, filepath.Dir(book)+string(filepath.Separator), "")
}

// profilesOf are the names of the instrument profiles that are wanted.
func (p *Page) profilesOf(wanted func(string) bool) (names []string, err error) {
	all, err := p.Profiles()
	for _, x := range all {
		if wanted(x.Kind) {
			names = append(names, x.Name)
		}
	}
	return names, err
}

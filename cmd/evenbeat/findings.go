package main

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/beat"
	"evenbeat/analysis/beat/numbering"
	"evenbeat/analysis/spring"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
	"evenbeat/sessions/plan"
)

// gather finds all that the clock's record tells: what isn't there stays nil, and
// whoever renders it says how to come by it.
func (a *app) gather(ctx context.Context, b *book.Book, clock sessions.Clock) (plots.Findings, error) {
	f := plots.Findings{Units: a.units()}
	g, rec, err := a.findGoing(ctx, b, clock, goingOptions{})
	if err != nil {
		return f, err
	}
	f.Record = rec // by the names that the user reads on the sheet
	if g.Checks > 0 {
		f.Going = &g
	}
	rec = a.byPlans(rec)
	if err := a.judge(rec, &f); err != nil {
		return f, err
	}
	opt, err := a.rateOptions(gateFlag{})
	if err != nil {
		return f, err
	}
	r, err := a.findRate(ctx, b, clock, rec.Sessions, rateOptions{}, opt)
	if _, few := errors.AsType[*beat.TooFewError](err); few || errors.Is(err, errNoTiming) {
		return f, nil
	}
	f.Rate = &r
	return f, err
}

// judge adds what the readings of a record alone tell, which is read by plans.
func (a *app) judge(rec sessions.Record, f *plots.Findings) error {
	springs, err := a.findSprings(rec)
	if err != nil {
		return err
	}
	if len(springs) > 0 {
		f.Spring, f.Others = &springs[0], springs[1:]
	}
	f.Fits, err = a.findFits(rec)
	return err
}

// judgeReadings finds what a clock's readings alone tell.
func (a *app) judgeReadings(ctx context.Context, b *book.Book, clock sessions.Clock) (f plots.Findings, err error) {
	f.Units = a.units()
	if f.Record, err = b.Record(ctx, clock.ID, book.Sessions, book.Readings); err != nil {
		return f, err
	}
	return f, a.judge(a.byPlans(f.Record), &f)
}

// byPlans returns the record as findings read it: by the plans in the settings.
func (a *app) byPlans(rec sessions.Record) sessions.Record {
	return plan.Resolve(rec, func(name string) (plan.Plan, bool) {
		p, err := a.loaded.Plan(name)
		return p, err == nil
	})
}

// findSprings judges the spring of each part of which a bore was measured, in a record
// read by plans: barrel first.
func (a *app) findSprings(rec sessions.Record) (found []spring.Result, err error) {
	for _, part := range analysis.SpringParts(rec) {
		if !slices.ContainsFunc(rec.Readings, func(r sessions.Reading) bool {
			return r.State != sessions.Undone && r.Part == part && sessions.SpringFinding.Reads(r, "bore")
		}) {
			continue
		}
		s, err := analysis.Spring(rec, part, nil, a.springOptions())
		if err != nil {
			return nil, fmt.Errorf("part %s: %w", part, err)
		}
		found = append(found, s)
	}
	return found, nil
}

// springOptions are the settings that the judgement of a spring needs.
func (a *app) springOptions() analysis.SpringOptions {
	s := a.loaded.Settings
	l := spring.DefaultLimits()
	l.FillLow, l.FillHigh = s.Spring.FillLow, s.Spring.FillHigh
	l.ArborShareLow, l.ArborShareHigh = s.Spring.ArborLow, s.Spring.ArborHigh
	l.ArborPerStripLow = s.Spring.ArborOverStrip
	l.EndFloatLow, l.EndFloatHigh = s.Spring.EndFloatLowMM*1e-3, s.Spring.EndFloatHighMM*1e-3
	l.FreeShareLow = s.Spring.FreeDiameter
	l.AllowanceTurns = s.Spring.AllowanceTurns
	// The uncertainty of the modulus is of the steel, whatever figure is taken for it.
	l.ModulusU *= s.Spring.ModulusGPa * 1e9 / l.Modulus
	l.Modulus = s.Spring.ModulusGPa * 1e9
	return analysis.SpringOptions{Limits: l, Units: a.units(), TypedLimit: s.Typed.LimitMM * 1e-3}
}

// errNoTiming tells that the clock was never timed.
var errNoTiming = errors.New("not timed yet: use evenbeat time --port PORT")

// timingSession picks a timing session of all that the clock has; 0 means the newest.
func timingSession(all []sessions.Session, clock sessions.Clock, id int64) (sessions.Session, error) {
	for _, s := range slices.Backward(all) {
		if s.Kind == sessions.SessionTime && (id == 0 || s.ID == id) {
			return s, nil
		}
	}
	if id != 0 {
		return sessions.Session{}, badCall("--session %d is no timing session of %s: evenbeat record sessions lists them", id, clock.Name)
	}
	return sessions.Session{}, fmt.Errorf("%s: %w", clock.Name, errNoTiming)
}

// findRate finds the rate from a timing session of all that the clock has.
func (a *app) findRate(ctx context.Context, b *book.Book, clock sessions.Clock, all []sessions.Session, r rateOptions, o analysis.RateOptions) (beat.Result, error) {
	return ofSession(ctx, a, b, clock, all, r, o, func(clock sessions.Clock, ses sessions.Session, beats iter.Seq2[[]sessions.Beat, error], o analysis.RateOptions) (beat.Result, error) {
		if err := tellDays(ctx, b, clock, ses.Started, &o); err != nil {
			return beat.Result{}, err
		}
		return analysis.Rate(clock, ses, beats, o)
	})
}

// tellDays adds to o whether the book tells how a clock goes over days, where its nut may be
// spoken of in a session that began then.
func tellDays(ctx context.Context, b *book.Book, clock sessions.Clock, begun time.Time, o *analysis.RateOptions) error {
	if clock.NutPitch == 0 {
		return nil
	}
	rec, err := b.Record(ctx, clock.ID, book.Checks)
	if e, ok := errors.AsType[*book.Error](err); ok && e.Kind == book.KindDamaged {
		return nil // the beats are asked for, and may be whole
	}
	o.DaysChecked = analysis.DaysChecked(rec.Checks, begun)
	return err
}

// ofSession has find go through a timing session of all that the clock has: the one
// that r names or the newest, read as r says.
func ofSession[T any](ctx context.Context, a *app, b *book.Book, clock sessions.Clock, all []sessions.Session, r rateOptions, o analysis.RateOptions,
	find func(sessions.Clock, sessions.Session, iter.Seq2[[]sessions.Beat, error], analysis.RateOptions) (T, error)) (T, error) {
	var none T
	if r.from != "" || r.to != "" {
		return ofRun(ctx, a, b, clock, all, r, o, find)
	}
	ses, err := timingSession(all, clock, r.session)
	if err != nil {
		return none, err
	}
	n, err := b.BeatCount(ctx, ses.ID)
	if err != nil {
		return none, err
	}
	if err := tellOfSession(ctx, b, ses, &o); err != nil {
		return none, err
	}
	beats := b.Beats(ctx, ses.ID)
	if r.as != "" {
		if ses, beats, err = a.bench().Reread(ctx, b, ses, r.as); err != nil {
			return none, flagError("as", err)
		}
	}
	p := a.streams().Progress(fmt.Sprintf("reading session %d", ses.ID), n, a.now)
	defer p.End()
	f, err := find(clock, ses, p.Beats(beats), o)
	if few, ok := errors.AsType[*beat.TooFewError](err); ok && r.as == "" {
		return f, fmt.Errorf("session %d of %s: %w%s", ses.ID, clock.Name, few, a.otherReading(few, ses))
	}
	return f, err
}

// ofRun has find go through all timing sessions that began from --from to --to as through
// one run. Is it a single one, it is read as such.
func ofRun[T any](ctx context.Context, a *app, b *book.Book, clock sessions.Clock, all []sessions.Session, r rateOptions, o analysis.RateOptions,
	find func(sessions.Clock, sessions.Session, iter.Seq2[[]sessions.Beat, error], analysis.RateOptions) (T, error)) (T, error) {
	var none T
	from, to, err := a.between(r.from, r.to, a.zone(clock))
	if err != nil {
		return none, err
	}
	var in []sessions.Session
	for _, s := range all {
		if s.Kind == sessions.SessionTime && !s.Started.Before(from) && (to.IsZero() || !s.Started.After(to)) {
			in = append(in, s)
		}
	}
	switch len(in) {
	case 0:
		return none, badCall("no timing session of %s began then: evenbeat record sessions lists them", clock.Name)
	case 1:
		r.session, r.from, r.to = in[0].ID, "", ""
		return ofSession(ctx, a, b, clock, all, r, o, find)
	}
	slices.SortFunc(in, func(x, y sessions.Session) int { return x.Started.Compare(y.Started) })
	run, err := analysis.Join(in, func(id int64) iter.Seq2[[]sessions.Beat, error] { return b.Beats(ctx, id) })
	if err != nil {
		return none, asCall(err)
	}
	o.Run = &run
	return find(clock, run.Session, run.Beats(), o)
}

// cutOffBefore returns the timing session before that of a number, if it never ended, as
// after a power cut, and was by the same sensor; else none.
func cutOffBefore(all []sessions.Session, id int64) (none sessions.Session) {
	var before sessions.Session
	for _, s := range all {
		switch {
		case s.Kind != sessions.SessionTime:
		case s.ID != id:
			before = s
		case before.Ended.IsZero() && before.Profile == s.Profile:
			return before
		default:
			return none
		}
	}
	return none
}

// sessionsText names the sessions that were read.
func sessionsText(all []int64) string {
	if len(all) == 1 {
		return fmt.Sprintf("session %d", all[0])
	}
	return fmt.Sprintf("sessions %d to %d", all[0], all[len(all)-1])
}

// otherReading says how a session without a beat may be read anew, if it may.
func (a *app) otherReading(few *beat.TooFewError, ses sessions.Session) string {
	as, other := a.bench().OtherReading(ses)
	if other == "" || few.Events < numbering.LeastEvents {
		return ""
	}
	return fmt.Sprintf("; or the lines are %[2]s and were read as %[1]s: try evenbeat rate --session %[3]d --as %[2]s", as, other, ses.ID)
}

// tellOfSession adds to o what the book holds of the time base of a session: what a
// reference and the computer told, and its earlier sessions on that computer.
func tellOfSession(ctx context.Context, b *book.Book, ses sessions.Session, o *analysis.RateOptions) (err error) {
	if o.References, err = b.References(ctx, ses.ID); err != nil {
		return err
	}
	if o.HostReadings, err = b.HostReadings(ctx, ses.ID); err != nil || len(o.HostReadings) == 0 {
		return err
	}
	o.Earlier, err = earlierOn(ctx, b, o.HostReadings[0].Host, ses.Started)
	return err
}

// mostEarlier bounds how many sessions a computer's clock is remembered from.
const mostEarlier = 20

// earlierOn returns what the sessions on a computer before a time, of any clock, tell of
// that computer's own clock. What a reference told is read of the newest such session
// alone: it is long.
func earlierOn(ctx context.Context, b *book.Book, host string, before time.Time) (spans []sessions.HostSpan, err error) {
	all, err := b.SessionsOn(ctx, host, before, mostEarlier)
	told := false
	for _, s := range all {
		span := sessions.HostSpan{Session: s}
		if span.Readings, err = b.HostReadings(ctx, s.ID); err != nil {
			return nil, err
		}
		if !s.Timing.HostSynced && !told {
			told = true
			if span.Told, err = b.References(ctx, s.ID); err != nil {
				return nil, err
			}
		}
		spans = append(spans, span)
	}
	return spans, err
}

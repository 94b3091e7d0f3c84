package page

import (
	"bufio"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

var daysNow = time.Date(2026, 3, 1, 9, 10, 0, 0, time.UTC)

// serveDays serves a page at daysNow, with one clock.
func serveDays(t *testing.T) *bench {
	t.Helper()
	b := serve(t, nil)
	b.Now = func() time.Time { return daysNow }
	b.Settings.Check.LimitS = 0.5
	b.add(t, sessions.Clock{Name: hostile, Zone: "UTC"})
	b.add(t, sessions.Clock{Name: "Another", Zone: "UTC"})
	return b
}

func (b *bench) record(t *testing.T) (rec sessions.Record) {
	t.Helper()
	if err := b.Read(t.Context(), func(x *book.Book) (err error) {
		rec, err = x.Record(t.Context(), 1, book.Checks, book.Events)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return rec
}

func sent(form string, f url.Values) url.Values {
	f.Set("form", form)
	return f
}

func holdsAll(t *testing.T, text string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("the page lacks %q: %s", w, text)
		}
	}
}

// A check and a note are typed, listed with the newest first, and taken back one by one.
func TestDaysForms(t *testing.T) {
	t.Parallel()
	b := serveDays(t)
	const days = "/clocks/1/days"
	status, text, at := b.post(t, days, url.Values{"form": {"check"}, "error": {"+7.5s"}, "at": {"2026-02-28T08:00:00Z"}, "limit": {"0.2s"}, "amplitude": {"1,9°"}})
	if status != http.StatusOK || at != days {
		t.Errorf("status %d at %s", status, at)
	}
	holdsAll(t, text, told["checked"], "check 1", "dial", "7.50 ± 0.23 s", "reading 1", "amplitude 1.9°")
	_, text, _ = b.post(t, days, url.Values{"form": {"note"}, "kind": {"adjusted"}, "turns": {"−0,5"}, "text": {hostile}})
	holdsAll(t, text, told["noted"], "adjusted by −0.5 turns", "&lt;script&gt;alert(1)")
	_, text, _ = b.post(t, days, url.Values{"form": {"note"}, "kind": {"wound"}, "happened": {"2026-02-28T10:00:00Z"}})
	holdsAll(t, text, render.WindingCaution, "Sat 28 Feb 2026 10:00")
	_, text, _ = b.post(t, days, url.Values{"form": {"note"}, "kind": {"set"}, "before": {"+42s"}, "after": {"0s"}})
	holdsAll(t, text, "set from &#43;42.00 s to &#43;0.00 s")
	if strings.Index(text, "note 1") > strings.Index(text, "note 2") || strings.Contains(text, "<script>") {
		t.Errorf("the list is %s", text)
	}
	_, text, _ = b.post(t, days, url.Values{"form": {"note"}, "kind": {"adjusted"}, "turns": {"-1 1/4"}})
	holdsAll(t, text, "adjusted by −1.25 turns")
	rec := b.record(t)
	if k := rec.Checks[0]; k.ErrorS != 7.5 || math.Abs(k.U-0.2/math.Sqrt(3)) > 1e-12 {
		t.Errorf("the check is %+v", k)
	}
	for _, back := range []url.Values{
		{"thing": {"check"}, "number": {"1"}, "why": {hostile}},
		{"thing": {"note"}, "number": {"2"}},
		{"thing": {"reading"}, "number": {"1"}, "why": {"read off the wrong scale"}},
	} {
		if status, text, _ = b.post(t, days, sent("undo", back)); status != http.StatusOK {
			t.Errorf("status %d of taking back %v", status, back)
		}
	}
	holdsAll(t, text, told["back"], "taken back: &lt;script&gt;")
	if rec = b.record(t); len(rec.Checks) != 0 || len(rec.Withdrawn.Checks) != 1 || rec.Withdrawn.Checks[0].Why != hostile || len(rec.Events) != 3 || rec.Readings[0].State != sessions.Undone {
		t.Errorf("the record is %+v", rec)
	}
	for _, back := range []url.Values{{"thing": {"check"}, "number": {"9"}}, {"thing": {"session"}, "number": {"1"}}, {"thing": {hostile}}, {}} {
		if status, _, _ := b.post(t, days, sent("undo", back)); status != http.StatusNotFound {
			t.Errorf("status %d of taking back %v", status, back)
		}
	}
	if status, _, _ := b.post(t, "/clocks/2/days", url.Values{"form": {"undo"}, "thing": {"note"}, "number": {"1"}}); status != http.StatusNotFound {
		t.Errorf("status %d of taking back what is another clock's", status)
	}
}

// What is wrong stands on the form with what was typed, and what is odd is asked about
// once. Nothing is kept before that.
func TestDaysRefused(t *testing.T) {
	t.Parallel()
	b := serveDays(t)
	const days = "/clocks/1/days"
	for _, c := range []struct {
		form string
		f    url.Values
		want string
	}{
		{"check", url.Values{}, "is not an error of the dial"},
		{"check", url.Values{"error": {hostile}}, "is not an error of the dial"},
		{"check", url.Values{"error": {"99h"}}, "no dial can be more than"},
		{"check", url.Values{"error": {"1s"}, "at": {hostile}}, "is no time"},
		{"check", url.Values{"error": {"1s"}, "limit": {"x"}}, "limit-about"},
		{"check", url.Values{"error": {"1s"}, "amplitude": {"400°"}}, "amplitude-about"},
		{"check", url.Values{"error": {"1s"}, "limit": {"99h"}}, "must be from 0 to"},
		{"check", url.Values{"error": {"1s"}, "at": {"2026-03-01T10:00:00Z"}}, "is ahead of this"},
		{"note", url.Values{"kind": {hostile}}, "use wound, adjusted"},
		{"note", url.Values{"kind": {"adjusted"}, "turns": {"half"}}, "is no number of turns: write it like -0.5, 1/4 or 1 1/2"},
		{"note", url.Values{"kind": {"adjusted"}, "turns": {"NaN"}}, "is no number of turns"},
		{"note", url.Values{"kind": {"adjusted"}, "turns": {"1001"}}, "must be from −"},
		{"note", url.Values{"kind": {"adjusted"}, "turns": {"12"}}, "by minutes a day"},
		{"note", url.Values{"kind": {"wound"}, "turns": {"1"}}, "goes with the kind adjusted"},
		{"note", url.Values{"kind": {"wound"}, "before": {"1s"}}, "goes with the kind set"},
		{"tapped", url.Values{"minute": {"7"}}, "there are no three taps"},
		{"tapped", url.Values{"minute": {hostile}}, "is no minute"},
		{"tapped", url.Values{"minute": {"7"}, "marks": {"60"}, "step": {"0"}, "taps": {"1 2 NaN"}}, "there are no three taps"},
		{"tapped", url.Values{"minute": {"7"}, "marks": {"60"}, "step": {"0"}, "taps": {"1 2 3"}, "before": {"1/2"}}, "there are no three taps"},
	} {
		status, text, _ := b.post(t, days, sent(c.form, c.f))
		if status != http.StatusUnprocessableEntity || !strings.Contains(text, c.want) || strings.Contains(text, "<script>") {
			t.Errorf("%s %v: status %d, want %q: %s", c.form, c.f, status, c.want, text)
		}
	}
	if rec := b.record(t); len(rec.Checks)+len(rec.Events) > 0 {
		t.Errorf("it is kept: %+v", rec)
	}
	ahead := url.Values{"error": {"1s"}, "at": {"2026-03-01T10:00:00Z"}, "sure": {"yes"}}
	if status, _, _ := b.post(t, days, sent("check", ahead)); status != http.StatusOK || len(b.record(t).Checks) != 1 {
		t.Errorf("status %d of what was confirmed", status)
	}
}

// tapped is what the script of a phone sends that began at an odd time of its own, with
// marks of 15 s at a dial 2.5 s fast.
func tapped() url.Values {
	const phone = 323456.7 // ms, at daysNow
	round := func(from, host float64) string {
		return fmt.Sprintf("%g/%d/%g", phone+from, daysNow.Add(time.Duration(host*1e6)).UnixNano(), phone+from+20)
	}
	return url.Values{"form": {"tapped"}, "minute": {"9:07"}, "marks": {"15"}, "step": {"0.1"},
		"taps":   {fmt.Sprintf("%g %g %g", phone-180000-2500, phone-165000-2500, phone-150000-2300)},
		"before": {round(-190000, -190000+10) + " " + fmt.Sprintf("%g/0/%g", phone-189000, phone-188000)},
		"after":  {round(-140000, -140000+10)}}
}

// Taps are set against this computer's clock, and the median is kept.
func TestDaysTapped(t *testing.T) {
	t.Parallel()
	b := serveDays(t)
	status, text, at := b.post(t, "/clocks/1/days", tapped())
	if status != http.StatusOK || at != "/clocks/1/days" {
		t.Fatalf("status %d at %s: %s", status, at, text)
	}
	k := b.record(t).Checks[0]
	if math.Abs(k.ErrorS-2.5) > 1e-6 || k.U < 0.5/math.Sqrt(3) || k.U > 0.4 || k.At.Before(daysNow.Add(-183*time.Second)) || k.At.After(daysNow.Add(-152*time.Second)) {
		t.Errorf("the check is %+v", k)
	}
	// What was tapped is still there when the minute must be mended.
	f := tapped()
	f.Set("minute", "noon")
	_, text, _ = b.post(t, "/clocks/1/days", f)
	holdsAll(t, text, `value="`+f.Get("taps")+`"`, `value="noon"`, `value="15" checked`, `src="/days.js"`, `aria-current="page"`)
	if _, said := b.get(t, "/clocks/1/days/time"); said != fmt.Sprint(daysNow.UnixNano()) {
		t.Errorf("the time is %s", said)
	}
}

// An open page follows the book, whoever writes to it: a check, a note, and one taken back.
func TestDaysFollowTheBook(t *testing.T) {
	t.Parallel()
	b := serve(t, func(l *limits) { l.look = time.Millisecond })
	c := b.add(t, sessions.Clock{Name: "Hall"})
	answer := b.open(t, "/clocks/1/days/events")
	defer answer.Body.Close()
	events := bufio.NewReader(answer.Body)
	await := func(text string) {
		t.Helper()
		for {
			if name, data := event(t, events); name == "rows" && strings.Contains(data, text) {
				return
			}
		}
	}
	await("Nothing is recorded yet")
	for _, x := range []struct {
		do   func(*book.Book) error
		want string
	}{
		{func(x *book.Book) error {
			_, err := x.AddEvent(t.Context(), sessions.Event{ClockID: c.ID, At: daysNow, Kind: sessions.EventMoved, Text: "<script>x()</script>"})
			return err
		}, "&lt;script&gt;x()"},
		{func(x *book.Book) error {
			_, err := x.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: daysNow, ErrorS: 7.5, U: 0.1})
			return err
		}, "check 1"},
		{func(x *book.Book) error { return x.Withdraw(t.Context(), book.ThingCheck, 1, "a slip") }, "taken back: a slip"},
	} {
		if err := b.Write(t.Context(), x.do); err != nil {
			t.Fatal(err)
		}
		await(x.want)
	}
}

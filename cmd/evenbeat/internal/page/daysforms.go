package page

import (
	"errors"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenbeat/analysis"
	"evenbeat/analysis/going"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// sure has what is odd confirmed: the form is shown again with the question, and taken
// with the answer "yes".
func (f form) sure(odd string) {
	if odd != "" && f.Text("sure") != "yes" {
		f.faults["sure"] = odd + "."
	}
}

// when reads a time from a field: now where it is empty.
func (p *Page) when(f form, field string, zone *time.Location) time.Time {
	text := f.Text(field)
	if text == "" {
		return p.Now()
	}
	t, odd, err := p.ParseTime(text, zone)
	f.Fault(field, err)
	f.sure(odd)
	return t
}

// postDays keeps what one of the page's forms says, and goes back to the page; or shows
// it again, with what is wrong. All forms post to the page's own address, so that it is
// the same page that is shown.
func (p *Page) postDays(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	var d days
	var take func(*http.Request, *book.Book, sessions.Record, form) (told string, err error)
	switch f.Text("form") {
	case "tapped":
		d.Tapped, take = f, p.addTaps
	case "check":
		d.Check, take = f, p.addCheck
	case "note":
		d.Note, take = f, p.addNote
	case "undo":
		take = p.takeBack
	default:
		return refuse(http.StatusBadRequest, "The page has no such form.")
	}
	var clock sessions.Clock
	say := ""
	err = p.withClock(r, func(b *book.Book, c sessions.Clock) error {
		clock = c
		rec, err := b.Record(r.Context(), c.ID, book.Checks, book.Events)
		if err == nil {
			say, err = take(r, b, rec, f)
		}
		return err
	})
	switch {
	case err != nil:
		return err
	case f.Bad():
		return p.writeDays(w, r, http.StatusUnprocessableEntity, clock.ID, d)
	}
	p.goTo(w, r, addressOf(daysPath, clock), say)
	return nil
}

// takeBack takes back a check, an amplitude or a note of the clock.
func (p *Page) takeBack(r *http.Request, b *book.Book, rec sessions.Record, f form) (string, error) {
	var d days
	d.list(rec, time.UTC)
	thing, id := book.Thing(f.Text("thing")), f.Text("number")
	i := slices.IndexFunc(d.Rows, func(x dayRow) bool { return x.Thing == thing && strconv.FormatInt(x.ID, 10) == id })
	if i < 0 {
		return "", refuse(http.StatusNotFound, "This clock has no such check, amplitude or note.")
	}
	return "back", b.Withdraw(r.Context(), thing, d.Rows[i].ID, f.Text("why"))
}

// keepCheck keeps a check, unless the form says what is wrong with it or asks about it.
func (p *Page) keepCheck(r *http.Request, b *book.Book, rec sessions.Record, f form, k sessions.Check) (string, error) {
	if f.Bad() {
		return "", nil
	}
	k.ClockID = rec.Clock.ID
	if err := k.Validate(p.Now()); err != nil {
		f.Fault("error", err)
		return "", nil
	}
	f.sure(p.OddTime(k.At, rec))
	// A record that can't be analysed is no reason to refuse a check.
	if d, err := analysis.Doubt(rec, k, analysis.GoingOptions{Zone: p.zone(rec.Clock)}); err == nil && d != nil && !f.Bad() {
		f.sure(d.Asks() + " If it is kept, it stays out of every rate until another check confirms it")
	}
	if f.Bad() {
		return "", nil
	}
	_, err := b.AddCheck(r.Context(), k)
	return "checked", err
}

// addCheck takes a check whose error was typed.
func (p *Page) addCheck(r *http.Request, b *book.Book, rec sessions.Record, f form) (string, error) {
	k := sessions.Check{At: p.when(f, "at", p.zone(rec.Clock))}
	limit := p.Settings.Check.LimitS
	if text := f.Text("limit"); text != "" {
		d, err := quantity.ParseSpan(text)
		f.Fault("limit", err)
		limit = d.Seconds()
	}
	var err error
	k.ErrorS, err = quantity.ParseDialError(f.Text("error"))
	f.Fault("error", err)
	k.U = limit / math.Sqrt(3)
	swing, err := sessions.ReadAmplitude(f.Text("amplitude"))
	f.Fault("amplitude", err)
	say, err := p.keepCheck(r, b, rec, f, k)
	if say != "" && err == nil && swing.Value > 0 {
		swing.ClockID, swing.At = rec.Clock.ID, k.At
		_, err = b.AddReading(r.Context(), swing)
	}
	return say, err
}

// addTaps takes a check that was tapped on a phone.
func (p *Page) addTaps(r *http.Request, b *book.Book, rec sessions.Record, f form) (string, error) {
	hand, err := quantity.ParseHand(f.Text("minute"))
	f.Fault("minute", err)
	taps, err := readTaps(f)
	f.Fault("error", err)
	if f.Bad() {
		return "", nil
	}
	got, err := taps.Check(hand, p.Settings.Check.LimitS, p.zone(rec.Clock))
	f.Fault("error", err)
	return p.keepCheck(r, b, rec, f, sessions.Check{At: got.At, ErrorS: got.ErrorS, U: got.U})
}

var errNoTaps = errors.New("there are no three taps: tap as the hand passes three marks")

// readTaps reads what days.js measured, in ms of the phone's clock.
func readTaps(f form) (t going.Taps, err error) {
	bad := false
	ms := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		bad = bad || err != nil || !(v >= 0 && v < 1e13)
		return v / 1000
	}
	at := strings.Fields(f.Text("taps"))
	if len(at) != len(t.At) {
		return t, errNoTaps
	}
	for i := range t.At {
		t.At[i] = ms(at[i])
	}
	t.Step = ms(f.Text("step"))
	t.Marks = 1000 * ms(f.Text("marks"))
	rounds := func(name string) (all []going.RoundTrip) {
		for text := range strings.FieldsSeq(f.Text(name)) {
			x := strings.Split(text, "/")
			if len(x) != 3 {
				bad = true
				return nil
			}
			ns, err := strconv.ParseInt(x[1], 10, 64)
			bad = bad || err != nil
			all = append(all, going.RoundTrip{Sent: ms(x[0]), Back: ms(x[2]), Host: time.Unix(0, ns)})
		}
		return all
	}
	t.Before, t.After = rounds("before"), rounds("after")
	if bad || !(t.Marks >= 5 && t.Marks <= 60) {
		return t, errNoTaps
	}
	return t, nil
}

// addNote takes a note.
func (p *Page) addNote(r *http.Request, b *book.Book, rec sessions.Record, f form) (string, error) {
	e := p.readNote(rec, f)
	if f.Bad() {
		return "", nil
	}
	if _, err := b.AddEvent(r.Context(), e); err != nil || e.Kind != sessions.EventWound {
		return "noted", err
	}
	return "wound", nil
}

// readNote reads a note, and marks in the form what is wrong or odd.
func (p *Page) readNote(rec sessions.Record, f form) sessions.Event {
	e := sessions.Event{ClockID: rec.Clock.ID, At: p.when(f, "happened", p.zone(rec.Clock)), Kind: f.Text("kind"), Text: f.Text("text")}
	if text := f.Text("turns"); text != "" {
		v, err := quantity.ParseTurns(text)
		f.Fault("turns", err)
		e.Turns, e.HasTurns = v, true
	}
	for _, x := range []struct {
		name string
		to   *float64
		has  *bool
	}{{"before", &e.Before, &e.HasBefore}, {"after", &e.After, &e.HasAfter}} {
		text := f.Text(x.name)
		if text == "" {
			continue
		}
		v, err := quantity.ParseDialError(text)
		if err == nil && e.Kind != sessions.EventSet {
			err = errors.New("the dial's error goes with the kind set, not " + e.Kind)
		}
		f.Fault(x.name, err)
		*x.to, *x.has = v, true
	}
	if f.Bad() {
		return e
	}
	if err := e.Validate(p.Now()); err != nil {
		field := "happened"
		if x, ok := errors.AsType[*quantity.InputError](err); ok && (x.Name == "kind" || x.Name == "turns") {
			field = x.Name
		}
		f.Fault(field, err)
		return e
	}
	f.sure(p.OddTime(e.At, rec))
	f.sure(e.Odd())
	return e
}

package plots

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// customerPage is what the template of the customer's page sets.
type customerPage struct {
	sheetPage
	Work   []string // what was done
	Before string
	Now    []string
	Expect []string
	Wind   []string
}

// CustomerPage writes the one page of a job that its customer gets, in plain words. It
// computes nothing: its figures are those of the findings.
func CustomerPage(w io.Writer, in SheetInput) error { return write(w, "customer.html", in, customerOf) }

func customerOf(in SheetInput) (customerPage, error) {
	f := in.Findings
	zone := zoneOfSheet(f.Record.Clock)
	p := customerPage{sheetPage: headOf(in, zone)}
	p.Photos = p.Photos[:min(len(p.Photos), mostPagePhotos)]
	p.Work = workWords(f.Record.Events, zone)
	p.rates(f, zone)
	p.winding(in, zone)
	return p, nil
}

// What the customer's page has room for.
const (
	mostPagePhotos = 2
	mostPageWork   = 6
	mostWorkWords  = 110 // characters
)

// workWords says what was done to the clock, the newest of it where there is much.
func workWords(events []sessions.Event, zone *time.Location) (work []string) {
	words := map[string]string{sessions.EventCleaned: "cleaned", sessions.EventOiled: "oiled", sessions.EventRepaired: "repaired",
		sessions.EventBushed: "worn holes bushed", sessions.EventReplaced: "a part replaced", sessions.EventAdjusted: "rate adjusted"}
	for _, e := range events {
		says := words[e.Kind]
		if says == "" {
			continue
		}
		if e.Text != "" {
			says += ": " + clipped(strings.Join(strings.Fields(e.Text), " "), mostWorkWords)
		}
		work = append(work, e.At.In(zone).Format("2 January 2006")+": "+says)
	}
	if more := len(work) - mostPageWork; more > 0 {
		work = append([]string{fmt.Sprintf("and %d earlier %s, which the workshop's record lists", more, quantity.Plural(int64(more), "entry", "entries"))}, work[more:]...)
	}
	return work
}

func clipped(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

// rates says how the clock went before and goes now, and what to expect.
func (p *customerPage) rates(f Findings, zone *time.Location) {
	g := f.Going
	if g == nil || g.Checks == 0 {
		return
	}
	now := g.RateNow
	if n := len(g.Segments); n > 1 {
		first := g.Segments[0]
		p.Before = fmt.Sprintf("Until %s %s.", first.To.In(zone).Format("2 January"), plainRate(first.Rate, "it gained", "it lost", "it kept time"))
	} else if now == nil {
		now = g.MeanRate
	}
	if told(now) {
		says := plainRate(*now, "it gains", "it loses", "it keeps time")
		p.Now = append(p.Now, strings.ToUpper(says[:1])+says[1:]+".")
	}
	if told(g.ErrorNow) {
		p.Now = append(p.Now, "At the last check its dial was "+dialWords(*g.ErrorNow)+".")
	}
	if told(g.Forecast) {
		p.Expect = append(p.Expect, "If nothing is touched, a week later its dial will be "+dialWords(*g.Forecast)+".")
	}
	for _, x := range g.Factors {
		if x.Significant && x.Name == "temperature" {
			p.Expect = append(p.Expect, "It goes a little differently in a warm room and in a cold one: keep it out of the sun and away from a heater.")
		}
	}
}

// plainRate says a rate as one would to a customer, with its interval.
func plainRate(v quantity.Value, gains, loses, neither string) string {
	switch {
	case v.Low95() > 0:
		return gains + " " + v.Text("s") + " a day"
	case v.High95() < 0:
		return loses + " " + v.Scale(-1).Text("s") + " a day"
	}
	return neither + " within " + v.Signed("s") + " a day"
}

// winding says how often to wind, by the shortest time that the spring drives the clock.
func (p *customerPage) winding(in SheetInput, zone *time.Location) {
	c := in.Winding
	switch days := math.Floor(c.GoesAtLeastH / 24); {
	case c.GoesAtLeastH <= 0:
		return
	case days >= 8:
		p.Wind = append(p.Wind, fmt.Sprintf("Wind it once a week, on the same day at about the same hour. It goes at least %.0f days.", days))
	case days >= 2:
		p.Wind = append(p.Wind, fmt.Sprintf("Wind it at least every %.0f days.", days))
	default:
		p.Wind = append(p.Wind, fmt.Sprintf("Wind it at least every %.0f hours.", math.Floor(c.GoesAtLeastH)))
	}
	if c.WindBy != nil {
		p.Wind = append(p.Wind, fmt.Sprintf("It was last wound on %s: wind it by %s.", c.LastWound.In(zone).Format("2 January"), windByWords(*c.LastWound, *c.WindBy, zone)))
	}
	p.Wind = append(p.Wind, "Use the right key, wind fully but without force, and never let the key slip: a mainspring can injure.")
}

// windByWords names the last morning or evening that is over before the clock may stop:
// "Monday evening, 16 March". Where that comes before the winding, it gives the time.
func windByWords(wound, by time.Time, zone *time.Location) string {
	by = by.In(zone)
	over, name := time.Date(by.Year(), by.Month(), by.Day(), 12, 0, 0, 0, zone), " morning, "
	if by.Before(over) {
		over, name = time.Date(by.Year(), by.Month(), by.Day(), 0, 0, 0, 0, zone), " evening, "
	}
	if !over.After(wound) {
		return by.Format("Monday, 2 January, 15:04")
	}
	day := over.Add(-time.Hour) // inside the morning or evening that ends then
	return day.Format("Monday") + name + day.Format("2 January")
}

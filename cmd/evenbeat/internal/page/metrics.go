package page

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"evenbeat/analysis"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// openMetrics is the media type of the OpenMetrics text format.
const openMetrics = "application/openmetrics-text; version=1.0.0; charset=utf-8"

// Ages beyond which a figure says nothing of the clock as it is now. It is not sent then:
// a watcher takes whatever is sent for the present. The times of the last check and the
// last beat are always sent, and tell how old the rest is.
const (
	// A clock is checked once a day, or at least when it is wound each week. After a
	// fortnight two weekly checks have been missed.
	staleDial = 15 * 24 * time.Hour
	// The rate of an hour at the bench follows the warmth and the winding of that day.
	staleBeat = 24 * time.Hour
	// A logger samples at least once an hour, and a room warms up within a few.
	staleAir = 2 * time.Hour
)

// family is a metric of all clocks: the unit is the end of its name.
type family struct{ name, unit, help string }

func (f family) full() string { return "evenbeat_" + f.name + "_" + f.unit }

// families are all metrics, in the order in which they are sent. Beats are gauges since
// they are of one session: a beat that was taken for missed may still be found.
func families() []family {
	const u = ": standard uncertainty."
	return []family{
		{"dial_error", "seconds", "Error of the dial at the last check, plus is fast."},
		{"dial_error_standard_uncertainty", "seconds", "Error of the dial" + u},
		{"rate", "seconds_per_day", "Rate by the checks of the dial since the last adjustment, or by the beats of the last timing session, plus is gaining."},
		{"rate_standard_uncertainty", "seconds_per_day", "Rate" + u},
		{"beat_error", "seconds", "Half the difference between tick and tock in the last timing session."},
		{"beat_error_standard_uncertainty", "seconds", "Beat error" + u},
		{"missed", "beats", "Beats not heard in the last timing session."},
		{"spurious", "beats", "Events in the last timing session that were no beats."},
		{"last_check_timestamp", "seconds", "Time of the last check of the dial, since 1970."},
		{"last_beat_timestamp", "seconds", "Time of the last beat heard, since 1970, by the computer's clock."},
		{"temperature", "celsius", "Temperature of the air about the clock."},
		{"reserve", "hours", "Time for which the spring drives the clock at least, from now on; 0 when it must be wound."},
		{"left_out", "clocks", "1 for a clock of which nothing else is sent, since its record can't be analysed."},
	}
}

// samples are the lines of each family, by its name without unit.
type samples map[string][]string

// metricsPlace sends what programs watch that look after many clocks, in the format of
// OpenMetrics 1.0 (draft-richih-opsawg-openmetrics-00).
func metricsPlace(p *Page) place {
	return place{Routes: map[string]answer{"GET /metrics": p.sendMetrics}}
}

func (p *Page) sendMetrics(w http.ResponseWriter, r *http.Request) error {
	clocks, err := p.clocks(r.Context())
	if err != nil {
		return err
	}
	all := samples{}
	for _, c := range clocks {
		err := p.addMetrics(r.Context(), c, all)
		if r.Context().Err() != nil {
			return err
		}
		if err != nil {
			p.Log.Error().Err(err).Str("clock", c.Name).Msg("bench page: left out of the metrics")
			all.put("left_out", 1, "clock", c.Name)
		}
	}
	p.send(w, http.StatusOK, openMetrics, []byte(all.text()))
	return nil
}

// addMetrics adds what is known of a clock now; nothing with an error.
func (p *Page) addMetrics(ctx context.Context, c sessions.Clock, all samples) error {
	_, f, err := p.findings(ctx, c.ID)
	if err != nil {
		return err
	}
	session, beat, err := p.lastBeat(ctx, f.Record.Sessions)
	if err == nil {
		all.add(*f, session, beat, p.Now())
	}
	return err
}

// lastBeat finds the last beat of a clock and its session; 0 where none was heard. Of a
// file of beats it isn't known when they were.
func (p *Page) lastBeat(ctx context.Context, all []sessions.Session) (session int64, at time.Time, err error) {
	err = p.Read(ctx, func(b *book.Book) error {
		for _, s := range slices.Backward(all) {
			if s.Kind != sessions.SessionTime || s.Imported() {
				continue
			}
			for beats, err := range b.Beats(ctx, s.ID) {
				if err != nil {
					return err
				}
				session, at = s.ID, time.Unix(0, beats[len(beats)-1].HostUTC)
			}
			if session != 0 {
				return nil
			}
		}
		return nil
	})
	return session, at, err
}

// add adds what is known of a clock now. Its last beat was in session at beat.
func (s samples) add(f plots.Findings, session int64, beat, now time.Time) {
	rec := f.Record
	one := func(name string, v float64, labels ...string) {
		s.put(name, v, append([]string{"clock", rec.Clock.Name}, labels...)...)
	}
	value := func(name string, v quantity.Value, labels ...string) {
		if v.Finite() && v != (quantity.Value{}) { // which stands for none
			one(name, v.V, labels...)
			one(name+"_standard_uncertainty", v.U, labels...)
		}
	}
	if n := len(rec.Checks); n > 0 {
		last := rec.Checks[n-1].At
		one("last_check_timestamp", unixSeconds(last))
		off, rate := ofTheDial(f, last, now)
		value("dial_error", off)
		value("rate", rate, "by", "checks")
	}
	if session != 0 {
		one("last_beat_timestamp", unixSeconds(beat))
	}
	if r := f.Rate; r != nil && session != 0 && r.Session == session && now.Sub(beat) <= staleBeat {
		value("rate", r.Rate.Value, "by", "beats")
		value("beat_error", r.BeatError)
		one("missed", float64(r.Missed))
		one("spurious", float64(r.Spurious))
	}
	if c, ok := warmth(rec.Air, now); ok {
		one("temperature", c)
	}
	// What can't be read of its train is told where it is typed. Nobody winds a clock that
	// has been left alone for longer than its dial is believed.
	if life, err := analysis.Clock(rec, analysis.ClockOptions{Spring: f.Spring}); err == nil && life.WindBy != nil && now.Sub(*life.WindBy) <= staleDial {
		one("reserve", max(0, life.WindBy.Sub(now).Hours()))
	}
}

// ofTheDial returns the error of the dial and its rate as the checks, the last of them at
// last, tell them of now; zero for none.
func ofTheDial(f plots.Findings, last, now time.Time) (off, rate quantity.Value) {
	if f.Going == nil || now.Sub(last) > staleDial {
		return off, rate
	}
	if e := f.Going.ErrorNow; e != nil && !handsMoved(f.Record.Events, last) {
		off = *e
	}
	if r := f.Going.RateNow; r != nil {
		rate = *r
	}
	return off, rate
}

// warmth returns the temperature about a clock now, °C.
func warmth(air []sessions.Air, now time.Time) (c float64, ok bool) {
	for _, a := range slices.Backward(air) {
		if a.HasTemperature {
			return a.TemperatureC, now.Sub(a.At) <= staleAir
		}
	}
	return 0, false
}

// handsMoved reports whether the error of a check is no longer that of the dial.
func handsMoved(all []sessions.Event, check time.Time) bool {
	return slices.ContainsFunc(all, func(e sessions.Event) bool {
		return e.At.After(check) && (e.Kind == sessions.EventSet || e.Kind == sessions.EventStopped || e.Kind == sessions.EventStarted)
	})
}

func unixSeconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1e3 }

// escaped is a label's value as the format writes it.
var escaped = strings.NewReplacer(`\`, `\\`, "\n", `\n`, `"`, `\"`)

// put adds a sample with labels, each a name and a value.
func (s samples) put(name string, v float64, labels ...string) {
	var set []string
	for l := range slices.Chunk(labels, 2) {
		set = append(set, l[0]+`="`+escaped.Replace(strings.ToValidUTF8(l[1], "�"))+`"`)
	}
	s[name] = append(s[name], fmt.Sprintf("{%s} %v\n", strings.Join(set, ","), v))
}

// text writes the samples, each family in one piece as the format asks.
func (s samples) text() string {
	var b strings.Builder
	for _, f := range families() {
		if len(s[f.name]) == 0 {
			continue
		}
		fmt.Fprintf(&b, "# TYPE %[1]s gauge\n# UNIT %[1]s %[2]s\n# HELP %[1]s %[3]s\n", f.full(), f.unit, f.help)
		for _, line := range s[f.name] {
			b.WriteString(f.full() + line)
		}
	}
	return b.String() + "# EOF\n"
}

package plots

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

// eventRows lists what was done to the clock in order of time, and whatever was taken
// back but readings, which have rows of their own.
func eventRows(r sessions.Record, zone *time.Location) (rows []sheetEvent) {
	what := func(e sessions.Event) string {
		if e.Kind == sessions.EventRemark {
			return e.Kind
		}
		return eventWords(e)
	}
	for _, e := range r.Events {
		rows = append(rows, sheetEvent{at: e.At, What: what(e), Text: e.Text})
	}
	taken := func(at time.Time, what, text, why string) {
		rows = append(rows, sheetEvent{at: at, What: what, Text: text, Why: why, TakenBack: true})
	}
	w := r.Withdrawn
	for _, x := range w.Events {
		taken(x.Row.At, what(x.Row), x.Row.Text, x.Why)
	}
	for _, x := range w.Checks {
		taken(x.Row.At, "checked: dial "+dialWords(quantity.Value{V: x.Row.ErrorS, U: x.Row.U}), "", x.Why)
	}
	for _, x := range w.Air {
		taken(x.Row.At, "air read", "", x.Why)
	}
	for _, x := range w.Sessions {
		taken(x.Row.Started, "session: "+x.Row.Kind, x.Row.Part, x.Why)
	}
	slices.SortStableFunc(rows, func(a, b sheetEvent) int { return a.at.Compare(b.at) })
	for i, row := range rows {
		rows[i].At = row.at.In(zone).Format("2 Jan 2006 15:04")
	}
	return rows
}

func readingRow(r sessions.Reading, u quantity.System, zone *time.Location) sheetReading {
	row := sheetReading{ID: r.ID, Session: r.SessionID, At: r.At.In(zone).Format("2 Jan 2006 15:04:05"), Part: r.Part, Dimension: r.Dimension,
		Text: visible(r.Text), Instrument: r.Instrument, State: r.State, Why: r.Why}
	dimension := r.Dimension
	if r.Kind == sessions.Count && dimension != sessions.Amplitude {
		dimension = "count" // whatever a plan of the user's own calls it
	}
	switch dimension {
	case "coils", "teeth", "leaves", "count", "turns":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64)
	case sessions.Amplitude:
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64) + "°"
	case "force":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64) + " N"
	case "torque":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64) + " N m"
	case "mass":
		row.Value = strconv.FormatFloat(r.Value, 'g', 6, 64) + " kg"
	default:
		decimals := 3
		if r.Step > 0 {
			decimals = min(4, max(0, int(math.Ceil(-math.Log10(r.Step*1e3)-1e-9))))
		}
		row.Value = u.Size(r.Value, decimals)
	}
	return row
}

// visible shows a line as received, without its end. Characters that can't be seen are
// shown as in Go strings, such as \t.
func visible(text string) string {
	q := strconv.Quote(strings.TrimRight(text, "\r\n"))
	return strings.ReplaceAll(q[1:len(q)-1], `\"`, `"`)
}

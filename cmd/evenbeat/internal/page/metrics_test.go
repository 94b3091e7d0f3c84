package page

import (
	"context"
	"errors"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"evenbeat/analysis/beat"
	"evenbeat/analysis/going"
	"evenbeat/analysis/spring"
	"evenbeat/configs"
	"evenbeat/devices/quantity"
	"evenbeat/plots"
	"evenbeat/sessions"
	"evenbeat/sessions/book"
)

// The grammar of OpenMetrics 1.0 (draft-richih-opsawg-openmetrics-00, ABNF) for the parts
// that gauges use. What follows the escape in a label is one of n, " and \ here.
var (
	descriptor = regexp.MustCompile(`^# (TYPE|UNIT|HELP) ([a-zA-Z_:][a-zA-Z0-9_:]*) (.*)$`)
	sampleLine = regexp.MustCompile(`^([a-zA-Z_:][a-zA-Z0-9_:]*)\{(.*)\} ([+-]?(?:[0-9]+(?:\.[0-9]*)?|[0-9]*\.[0-9]+)(?:e[+-]?[0-9]+)?)$`)
	labelPair  = regexp.MustCompile(`^([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^\n"\\]|\\[n"\\])*)"(,|$)`)
	unescaped  = strings.NewReplacer(`\\`, `\`, `\n`, "\n", `\"`, `"`)
)

// readMetrics reads a text of gauges, and is strict: a family is in one piece and is
// described before its samples, its name ends in its unit, no sample is twice, and the
// text ends where it says. A sample's key is its name and the values of its labels.
func readMetrics(t *testing.T, text string) map[string]float64 {
	t.Helper()
	body, ok := strings.CutSuffix(text, "# EOF\n")
	if !ok || strings.HasPrefix(body, "# EOF") || strings.Contains(body, "\n# EOF") {
		t.Fatalf("it doesn't end with # EOF: %q", text)
	}
	found, described, family := map[string]float64{}, map[string]string{}, ""
	for line := range strings.Lines(body) {
		line = strings.TrimSuffix(line, "\n")
		if d := descriptor.FindStringSubmatch(line); d != nil {
			kind, name, says := d[1], d[2], d[3]
			if family != name {
				family = name
				if kind != "TYPE" {
					t.Errorf("%s begins with its %s", name, kind)
				}
			}
			if _, twice := described[name+" "+kind]; twice {
				t.Errorf("%s has two %s, or is in pieces", name, kind)
			}
			described[name+" "+kind] = says
			if kind == "UNIT" && !strings.HasSuffix(name, "_"+says) || kind == "TYPE" && says != "gauge" || !strings.HasPrefix(name, "evenbeat_") {
				t.Errorf("%q", line)
			}
			continue
		}
		s := sampleLine.FindStringSubmatch(line)
		if s == nil || s[1] != family || described[family+" UNIT"] == "" || described[family+" HELP"] == "" {
			t.Fatalf("%q in family %s", line, family)
		}
		key := s[1]
		for rest := s[2]; rest != ""; {
			l := labelPair.FindStringSubmatch(rest)
			if l == nil {
				t.Fatalf("labels %q", rest)
			}
			key += "|" + unescaped.Replace(l[2])
			rest = rest[len(l[0]):]
		}
		v, err := strconv.ParseFloat(s[3], 64)
		if _, twice := found[key]; err != nil || twice {
			t.Errorf("%q: %v", line, err)
		}
		found[key] = v
	}
	return found
}

var metricsNow = time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)

// fullFindings are of a clock of which all is known.
func fullFindings(name string) plots.Findings {
	ago := func(d time.Duration) time.Time { return metricsNow.Add(-d) }
	return plots.Findings{
		Record: sessions.Record{
			Clock:  sessions.Clock{ID: 3, Name: name, Zone: "UTC"},
			Checks: []sessions.Check{{At: ago(48 * time.Hour)}, {At: ago(3 * time.Hour)}},
			Events: []sessions.Event{{At: ago(10 * time.Hour), Kind: sessions.EventWound}},
			Air:    []sessions.Air{{At: ago(time.Hour), HasTemperature: true, TemperatureC: 18.5}, {At: ago(time.Minute), HasHumidity: true, HumidityPct: 40}},
		},
		Going:  &going.Result{ErrorNow: &quantity.Value{V: -12.5, U: 0.2}, RateNow: &quantity.Value{V: -4.2, U: 0.1}},
		Spring: &spring.Result{Verdict: spring.Fits, GoingHours: &spring.Estimate{Value: quantity.Value{V: 190, U: 5}}},
		Rate: &beat.Result{Session: 7, Rate: beat.Rate{Value: quantity.Value{V: 3e-7, U: 1e-8}}, BeatError: quantity.Value{V: 0.0031, U: 1e-5},
			Missed: 12, Spurious: 3456789},
	}
}

// What is sent is what was found, and the text is what the standard allows.
func TestMetrics(t *testing.T) {
	t.Parallel()
	f := fullFindings("Hall")
	beat := metricsNow.Add(-1500 * time.Millisecond)
	all := samples{}
	all.add(f, 7, beat, metricsNow)
	all.add(plots.Findings{Record: sessions.Record{Clock: sessions.Clock{Name: "Never measured"}}}, 0, time.Time{}, metricsNow)
	all.add(fullFindings("Study"), 7, beat, metricsNow)
	got := readMetrics(t, all.text())
	want := map[string]float64{
		"dial_error_seconds":                               f.Going.ErrorNow.V,
		"dial_error_standard_uncertainty_seconds":          f.Going.ErrorNow.U,
		"rate_seconds_per_day checks":                      f.Going.RateNow.V,
		"rate_standard_uncertainty_seconds_per_day checks": f.Going.RateNow.U,
		"rate_seconds_per_day beats":                       f.Rate.Rate.V,
		"rate_standard_uncertainty_seconds_per_day beats":  f.Rate.Rate.U,
		"beat_error_seconds":                               f.Rate.BeatError.V,
		"beat_error_standard_uncertainty_seconds":          f.Rate.BeatError.U,
		"missed_beats":                                     float64(f.Rate.Missed),
		"spurious_beats":                                   float64(f.Rate.Spurious),
		"last_check_timestamp_seconds":                     float64(f.Record.Checks[1].At.Unix()),
		"last_beat_timestamp_seconds":                      float64(metricsNow.Unix()) - 1.5,
		"temperature_celsius":                              18.5,
		"reserve_hours":                                    170.2, // 190 less 1.96 × 5 less the ten hours since it was wound
	}
	for name, v := range want {
		name, by, _ := strings.Cut(name, " ")
		for _, clock := range []string{"Hall", "Study"} {
			key := strings.TrimSuffix("evenbeat_"+name+"|"+clock+"|"+by, "|")
			is, ok := got[key]
			off := is - v
			if name == "reserve_hours" { // to the minute
				off = max(0, off*off-1.0/3600)
			}
			if !ok || off != 0 {
				t.Errorf("%s is %v, want %v", key, is, v)
			}
		}
	}
	if len(got) != 2*len(want) {
		t.Errorf("%d samples, want %d: %v", len(got), 2*len(want), got)
	}
}

// What is old or no longer so isn't sent; when it was is.
func TestMetricsLeaveOutWhatIsStale(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		change func(*plots.Findings)
		beat   time.Duration
		gone   []string
	}{
		{"beats of the day before", nil, staleBeat + time.Second, []string{"rate_seconds_per_day|Hall|beats", "beat_error_seconds|Hall", "missed_beats|Hall", "spurious_beats|Hall"}},
		{"findings of another session", func(f *plots.Findings) { f.Rate.Session = 8 }, 0, []string{"rate_seconds_per_day|Hall|beats", "missed_beats|Hall"}},
		{"old checks", func(f *plots.Findings) {
			f.Record.Checks = []sessions.Check{{At: metricsNow.Add(-staleDial - time.Second)}}
		}, 0, []string{"dial_error_seconds|Hall", "rate_seconds_per_day|Hall|checks"}},
		{"hands set since", func(f *plots.Findings) {
			f.Record.Events = append(f.Record.Events, sessions.Event{At: metricsNow.Add(-time.Hour), Kind: sessions.EventSet})
		}, 0, []string{"dial_error_seconds|Hall"}},
		{"adjusted since", func(f *plots.Findings) { f.Going.RateNow = nil }, 0, []string{"rate_seconds_per_day|Hall|checks"}},
		{"old air", func(f *plots.Findings) { f.Record.Air[0].At = metricsNow.Add(-staleAir - time.Second) }, 0, []string{"temperature_celsius|Hall"}},
		{"never wound", func(f *plots.Findings) { f.Record.Events = nil }, 0, []string{"reserve_hours|Hall"}},
		{"left alone", func(f *plots.Findings) { f.Record.Events[0].At = metricsNow.Add(-40 * 24 * time.Hour) }, 0, []string{"reserve_hours|Hall"}},
		{"one side heard", func(f *plots.Findings) { f.Rate.BeatError = quantity.Value{} }, 0, []string{"beat_error_seconds|Hall"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := fullFindings("Hall")
			if c.change != nil {
				c.change(&f)
			}
			all := samples{}
			all.add(f, 7, metricsNow.Add(-c.beat), metricsNow)
			got := readMetrics(t, all.text())
			for _, key := range c.gone {
				if v, ok := got["evenbeat_"+key]; ok {
					t.Errorf("%s is sent: %v", key, v)
				}
			}
			for _, key := range []string{"last_check_timestamp_seconds|Hall", "last_beat_timestamp_seconds|Hall"} {
				if _, ok := got["evenbeat_"+key]; !ok {
					t.Errorf("%s is not sent", key)
				}
			}
			if len(got) >= 14 || len(got) < 7 {
				t.Errorf("%d samples are left", len(got))
			}
		})
	}
	f := fullFindings("Hall")
	f.Record.Events[0].At = metricsNow.Add(-200 * time.Hour)
	all := samples{}
	all.add(f, 7, metricsNow, metricsNow)
	if v, ok := readMetrics(t, all.text())["evenbeat_reserve_hours|Hall"]; !ok || v != 0 {
		t.Errorf("a clock to be wound has a reserve of %v h", v)
	}
}

// No name breaks out of its label.
func TestMetricsEscapeNames(t *testing.T) {
	t.Parallel()
	for _, name := range []string{`"} 1`, `\`, `\n`, `a\"b`, "two\nlines", "# EOF\n", `x",clock="y`, "Großvater ⏱", "a\r\x00b"} {
		all := samples{}
		all.add(fullFindings(name), 7, metricsNow, metricsNow)
		if got := readMetrics(t, all.text()); got["evenbeat_spurious_beats|"+name] != 3456789 || len(got) != 14 {
			t.Errorf("%q: %v", name, got)
		}
	}
	all := samples{}
	all.add(fullFindings("a\xff"), 7, metricsNow, metricsNow)
	if got := readMetrics(t, all.text()); got["evenbeat_missed_beats|a�"] != 12 {
		t.Errorf("%v", got)
	}
}

// The page sends its book: nothing of a clock with nothing, the last beat of the newest
// session that has one.
func TestMetricsOfTheBook(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	if status, text := b.get(t, "/metrics"); status != http.StatusOK || text != "# EOF\n" {
		t.Errorf("without a book: status %d: %s", status, text)
	}
	c := b.add(t, sessions.Clock{Name: `The "Hall"`})
	answer := b.open(t, "/metrics")
	if kind := answer.Header.Get("Content-Type"); kind != openMetrics {
		t.Errorf("it is %s", kind)
	}
	if _, text := b.read(t, answer); text != "# EOF\n" {
		t.Errorf("of a clock with nothing: %s", text)
	}
	start := time.Now().Truncate(time.Second).Add(-time.Hour)
	if err := b.Write(t.Context(), func(x *book.Book) error {
		for n := range 2 { // the second hears nothing
			id, err := x.StartSession(t.Context(), sessions.Session{ClockID: c.ID, Kind: sessions.SessionTime, Port: "p", Started: start})
			if err != nil {
				return err
			}
			var heard []sessions.Beat
			for i := range int64(5000 * (1 - n)) {
				heard = append(heard, sessions.Beat{Count: uint64(i), HostMono: i * 5e8, HostUTC: start.UnixNano() + i*5e8})
			}
			if err := x.AppendBeats(t.Context(), id, heard); err != nil {
				return err
			}
		}
		_, err := x.AddCheck(t.Context(), sessions.Check{ClockID: c.ID, At: start, ErrorS: 1, U: 0.1})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	_, text := b.get(t, "/metrics")
	got := readMetrics(t, text)
	if at := got[`evenbeat_last_beat_timestamp_seconds|The "Hall"`]; at != float64(start.Unix())+4999*0.5 {
		t.Errorf("the last beat was at %v: %s", at, text)
	}
	if at := got[`evenbeat_last_check_timestamp_seconds|The "Hall"`]; at != float64(start.Unix()) {
		t.Errorf("the last check was at %v", at)
	}
}

// A clock whose record can't be analysed is left out and named. The others are sent.
func TestMetricsLeaveOutOneClock(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	b.add(t, sessions.Clock{Name: "Hall"})
	b.add(t, sessions.Clock{Name: "Study"})
	usual := b.Gather
	b.Gather = func(ctx context.Context, x *book.Book, c sessions.Clock) (plots.Findings, error) {
		if c.Name == "Hall" {
			return plots.Findings{}, errors.New("beyond all bounds")
		}
		return usual(ctx, x, c)
	}
	if err := b.Write(t.Context(), func(x *book.Book) error {
		_, err := x.AddCheck(t.Context(), sessions.Check{ClockID: 2, At: time.Now(), ErrorS: 1, U: 0.1})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	status, text := b.get(t, "/metrics")
	got := readMetrics(t, text)
	if _, sent := got["evenbeat_last_check_timestamp_seconds|Study"]; status != http.StatusOK || !sent || got["evenbeat_left_out_clocks|Hall"] != 1 || len(got) != 2 {
		t.Errorf("status %d, %v: %s", status, got, text)
	}
}

// The topic watching names every metric, so that nobody has to look for them.
func TestMetricsAreTold(t *testing.T) {
	all := configs.Topics()
	i := slices.IndexFunc(all, func(p configs.Topic) bool { return p.Name == "watching" })
	if i < 0 {
		t.Fatal("there is no such topic")
	}
	for _, f := range families() {
		if !strings.Contains(all[i].Text, "\n"+f.full()) {
			t.Errorf("it doesn't tell of %s", f.full())
		}
	}
}

package main

import (
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/configs"
	"evenbeat/devices/formats"
	"evenbeat/sessions"
)

// topic returns the text of a topic, its lines joined.
func topic(t *testing.T, name string) string {
	t.Helper()
	all := configs.Topics()
	i := slices.IndexFunc(all, func(p configs.Topic) bool { return p.Name == name })
	if i < 0 {
		t.Fatalf("there is no topic %s", name)
	}
	return strings.Join(strings.Fields(all[i].Text), " ")
}

// Each topic is shown in 80 columns, begins with what it is about, and is in the list. None
// has the name of a command, which help would show in its place.
func TestTopics(t *testing.T) {
	var list bytes.Buffer
	if status := run(t.Context(), []string{"help"}, nil, nil, &list, io.Discard); status != statusDone {
		t.Fatalf("help: status %d", status)
	}
	commands := commandNames(newRoot(&app{out: io.Discard, err: io.Discard}))
	all := configs.Topics()
	for _, p := range all {
		if slices.Contains(commands, p.Name) {
			t.Errorf("%s is a command too", p.Name)
		}
		if !strings.Contains(list.String(), p.Name+" ") || !strings.Contains(list.String(), p.Title+"\n") {
			t.Errorf("%s isn't in the list", p.Name)
		}
		var shown bytes.Buffer
		if status := run(t.Context(), []string{"help", p.Name}, nil, nil, &shown, io.Discard); status != statusDone {
			t.Errorf("help %s: status %d", p.Name, status)
		}
		lines := strings.Split(shown.String(), "\n")
		if lines[0] != p.Title || len(lines) < 10 {
			t.Errorf("%s begins with %q, want its title, and has %d lines, want 10 or more", p.Name, lines[0], len(lines))
		}
		for i, l := range lines {
			if n := utf8.RuneCountInString(l); n > render.Width {
				t.Errorf("%s, line %d has %d columns: %s", p.Name, i+1, n, l)
			}
		}
	}
	if len(all) < 3 {
		t.Errorf("%d topics", len(all))
	}
}

// Every wire format is told of, every setting, and every dimension that a plan can name.
func TestTopicsTellAll(t *testing.T) {
	both := topic(t, "instruments") + topic(t, "sensor")
	for _, f := range formats.All() {
		if !strings.Contains(both, "`"+f.Name+"`") {
			t.Errorf("no topic tells of the wire format %s", f.Name)
		}
	}
	for _, p := range configs.PlanNames() {
		if !strings.Contains(topic(t, "plans"), "`"+p+"`") {
			t.Errorf("no topic tells of the plan %s", p)
		}
	}
	for _, f := range sessions.Findings() {
		if line := fmt.Sprintf("- %s: %s", f, strings.Join(f.Dimensions(), ", ")); !strings.Contains(topic(t, "plans"), line) {
			t.Errorf("no topic says: %s", line)
		}
	}
	l, err := configs.Load(configs.LoadOptions{Formats: live.FormatProfiles()})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range l.Entries() {
		line := fmt.Sprintf("- `%s`: %s", e.Key, e.Meaning)
		if e.Value != nil && e.Value != "" {
			line = fmt.Sprintf("- `%s` (%s): %s", e.Key, strings.TrimSpace(fmt.Sprint(e.Value, " ", e.Unit)), e.Meaning)
		}
		if !strings.Contains(topic(t, "settings"), line) {
			t.Errorf("the topic settings doesn't say: %s", line)
		}
	}
}

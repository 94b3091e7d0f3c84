package page

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// A clock is added by a form that posts, with or without a script. What is wrong stands
// beside its field, and what was typed is still there.
func TestAddClock(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	bad := url.Values{"name": {"Hall"}, "train": {"96/8,80/ten,30"}}
	status, text, at := b.post(t, "/clocks/new", bad)
	if status != http.StatusUnprocessableEntity || at != "/clocks/new" {
		t.Errorf("status %d at %s", status, at)
	}
	for _, want := range []string{`value="Hall"`, `value="96/8,80/ten,30"`, `aria-invalid="true" aria-describedby="train-about"`,
		"is no count of teeth", `id="train-about"`} {
		if !strings.Contains(text, want) {
			t.Errorf("the form lacks %q: %s", want, text)
		}
	}
	if _, text := b.get(t, "/"); !strings.Contains(text, "no clock yet") {
		t.Error("a clock was added")
	}
	good := url.Values{"name": {"  Hall "}, "train": {"96/8,80/10,75/10,30"}}
	status, text, at = b.post(t, "/clocks/new", good)
	if status != http.StatusOK || at != "/" || !strings.Contains(text, ">Hall</h2>") || !strings.Contains(text, told["added"]) {
		t.Errorf("status %d at %s: %s", status, at, text)
	}
	status, text, _ = b.post(t, "/clocks/new", good)
	if status != http.StatusUnprocessableEntity || !strings.Contains(text, "choose another name") {
		t.Errorf("status %d of the same again: %s", status, text)
	}
	// An address can name no other words than the page's own.
	if _, text := b.get(t, "/?told=Pay+here"); strings.Contains(text, "Pay here") {
		t.Error("the page says what an address told it to")
	}
}

// The train is checked as it is typed, before there is a name.
func TestTrainCheckedAsTyped(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	for typed, want := range map[string]string{
		"":                    "",
		"96/8,80/10,75/10,30": "3600 beats an hour, one every 1 s.",
		"96/8,80/10,75/":      "end with the escape wheel alone",
		hostile:               "&lt;script&gt;",
	} {
		status, text, _ := b.post(t, "/clocks/new/check", url.Values{"train": {typed}})
		if status != http.StatusOK || !strings.Contains(text, want) || strings.Contains(text, "<script") || strings.Contains(text, "name is empty") {
			t.Errorf("%q: status %d: %s", typed, status, text)
		}
	}
}

const hostile = `<script>alert(1)</script>`

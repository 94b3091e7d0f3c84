//go:build browser && unix

package main

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// TestBenchInBrowser opens the link with its token. The browser keeps the token out of the
// address, finds nothing that the page's policy forbids, and draws the sheet in its style.
// Run with go test -tags browser; it wants chromium.
func TestBenchInBrowser(t *testing.T) {
	s := serveBook(t, "0.0.0.0:0")
	s.link.Host = s.host()
	ctx := browser(t)
	said := chromedp.Console(ctx)
	if err := chromedp.Do(ctx, chromedp.Navigate(s.link.String())); err != nil {
		t.Fatal(err)
	}
	for script, want := range map[string]string{
		`location.href`:                                       "http://" + s.host() + "/",
		`document.cookie`:                                     "",
		`document.referrer`:                                   "",
		`String(document.scripts.length)`:                     "1",
		`document.querySelector("h2").textContent`:            hostile,
		`getComputedStyle(document.body).backgroundColor`:     "rgb(246, 244, 239)",
		`String(document.querySelectorAll("[style]").length)`: "0",
	} {
		got, err := chromedp.Run(ctx, chromedp.Evaluate[string](script))
		if err != nil {
			t.Fatal(err)
		}
		if got != want {
			t.Errorf("%s is %q, want %q", script, got, want)
		}
	}
	const end = "all is loaded"
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[int](`console.log("`+end+`"), 0`)); err != nil {
		t.Fatal(err)
	}
	for m, err := range said {
		if err != nil {
			t.Fatal(err)
		}
		if m.Text == end {
			break
		}
		t.Errorf("the console says: %s %s", m.Type, m.Text)
	}
}

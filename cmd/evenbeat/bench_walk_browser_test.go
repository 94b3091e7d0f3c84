//go:build browser && unix

package main

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// benchPlaces are the addresses of all pages, by the name of their picture.
var benchPlaces = [][2]string{{"clocks", "/"}, {"newclock", "/clocks/new"}, {"measuring", "/clocks/1/measuring"}, {"timing", "/clocks/1/timing"},
	{"days", "/clocks/1/days"}, {"sheet", "/clocks/1/sheet"}, {"missing", "/clocks/99/days"}}

// TestBenchWalkInBrowser opens each place at rest, in each state that a page can be in.
// EVENBEAT_PICTURES names a folder for pictures.
func TestBenchWalkInBrowser(t *testing.T) {
	c := newCritic(t)
	s := serveBook(t, "127.0.0.1:0")
	if out, err := evenbeat(t, s.dir, "check", "--error", "+7.5s").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	ctx := browser(t)
	for _, place := range benchPlaces {
		t.Run(place[0], func(t *testing.T) {
			do(t, ctx, chromedp.EmulateViewport(390, 900), chromedp.Navigate("http://"+s.host()+place[1]))
			if place[0] != "sheet" {
				walkByKeyboard(t, ctx)
			}
			c.looks(t, ctx, place[0])
			if taken := evaluate[string](t, ctx, foreign); taken != "" {
				t.Errorf("taken for a part of the page: %s", taken)
			}
		})
	}
}

// TestDaysWithoutScriptInBrowser takes a check back and types another on the page with
// scripts turned off.
func TestDaysWithoutScriptInBrowser(t *testing.T) {
	s := serveBook(t, "127.0.0.1:0")
	if out, err := evenbeat(t, s.dir, "check", "--error", "+3s").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	ctx := browser(t)
	withoutScript(t, ctx)
	do(t, ctx, chromedp.EmulateViewport(390, 800), chromedp.Navigate("http://"+s.host()+"/clocks/1/days"))
	if shown := evaluate[bool](t, ctx, `document.querySelector("[data-tap]").checkVisibility()`); shown {
		t.Error("what needs a script is shown without it")
	}
	do(t, ctx, click("details:has(#why-check-1) summary"), enter("#why-check-1", "misread\r"), chromedp.WaitReady(chromedp.CSS(".rows s")),
		enter("#error", "+7.5s"), enter("#limit", "0.2s\r"), chromedp.WaitReady(chromedp.CSS("#why-check-2")))
	if text := evaluate[string](t, ctx, `document.querySelector(".rows").textContent`); !strings.Contains(text, "taken back: misread") {
		t.Errorf("the list is %s", text)
	}
}

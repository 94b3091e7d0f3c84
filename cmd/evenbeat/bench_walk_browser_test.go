//go:build browser && unix

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// axeCore is the accessibility check, from the npm registry. Only this test uses it.
const axeCore = "axe-core@4.14.1"

// axeSource returns the check's script. It is fetched once, by npm, into the user's
// cache. Without npm or its registry the test fails, unless EVENBEAT_OFFLINE is set.
func axeSource(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(cache, "evenbeat-tests", axeCore)
	name := filepath.Join(dir, "node_modules", "axe-core", "axe.min.js")
	if _, err := os.Stat(name); err != nil {
		ctx, stop := context.WithTimeout(t.Context(), time.Minute)
		defer stop()
		out, err := exec.CommandContext(ctx, "npm", "install", "--ignore-scripts", "--no-audit", "--no-fund", "--prefix", dir, axeCore).CombinedOutput()
		if err != nil && os.Getenv("EVENBEAT_OFFLINE") != "" {
			t.Skipf("%s can't be fetched, and EVENBEAT_OFFLINE is set: %v", axeCore, err)
		} else if err != nil {
			t.Fatalf("%s can't be fetched (apt-get install npm; EVENBEAT_OFFLINE=1 leaves the check out): %v\n%s", axeCore, err, out)
		}
	}
	source, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(source)
}

// browser starts chromium with a tab of its own.
func browser(t *testing.T) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewContext(ctx)
	t.Cleanup(stop)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("the browser doesn't start (apt-get install chromium): %v", err)
	}
	return ctx
}

func evaluate[T any](t *testing.T, ctx context.Context, script string) T {
	t.Helper()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", script[:min(len(script), 80)], err)
	}
	return v
}

func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

// scheme has the browser ask for light or dark pages.
func scheme(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}}); err != nil {
		t.Fatal(err)
	}
}

// benchPlaces are the addresses of all pages, by the name of their picture.
var benchPlaces = [][2]string{{"clocks", "/"}, {"newclock", "/clocks/new"}, {"measuring", "/clocks/1/measuring"}, {"timing", "/clocks/1/timing"},
	{"days", "/clocks/1/days"}, {"sheet", "/clocks/1/sheet"}, {"missing", "/clocks/99/days"}}

// TestBenchWalkInBrowser opens each place in light and dark. The accessibility check finds
// nothing serious or critical, nothing is wider than the smallest window, what can be
// touched is 48 px high, and the tab key reaches all of it. EVENBEAT_PICTURES names a
// folder for pictures of each at three widths.
func TestBenchWalkInBrowser(t *testing.T) {
	axe := axeSource(t)
	s := serveBook(t, "127.0.0.1:0")
	if out, err := evenbeat(t, s.dir, "check", "--error", "+7.5s").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	ctx := browser(t)
	pictures := os.Getenv("EVENBEAT_PICTURES")
	for _, place := range benchPlaces {
		t.Run(place[0], func(t *testing.T) {
			for _, light := range []string{"light", "dark"} {
				scheme(t, ctx, light)
				do(t, ctx, chromedp.EmulateViewport(360, 800), chromedp.Navigate("http://"+s.host()+place[1]))
				if wide := evaluate[int](t, ctx, `document.documentElement.scrollWidth`); wide > 360 && place[0] != "sheet" {
					t.Errorf("%s: %d px wide in a window of 360", light, wide)
				}
				evaluate[int](t, ctx, axe+";0")
				var found []struct {
					ID, Impact, Help string
					Nodes            []struct{ HTML, FailureSummary string }
				}
				text := evaluate[string](t, ctx, `axe.run().then(r => JSON.stringify(r.violations))`)
				if err := json.Unmarshal([]byte(text), &found); err != nil {
					t.Fatal(err)
				}
				for _, f := range found {
					if f.Impact == "serious" || f.Impact == "critical" {
						t.Errorf("%s: %s (%s): %s %+v", light, f.ID, f.Impact, f.Help, f.Nodes)
					}
				}
				if pictures == "" {
					continue
				}
				for _, w := range []int64{390, 1024, 1920} {
					do(t, ctx, chromedp.EmulateViewport(w, 900))
					shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
					if err != nil {
						t.Fatal(err)
					}
					if err := os.WriteFile(filepath.Join(pictures, fmt.Sprintf("%s-%d-%s.png", place[0], w, light)), shot, 0o600); err != nil {
						t.Fatal(err)
					}
				}
			}
			if place[0] == "sheet" {
				return
			}
			if low := evaluate[string](t, ctx, lowTargets); low != "" {
				t.Errorf("less than 48 px high: %s", low)
			}
			walkByKeyboard(t, ctx)
		})
	}
}

// lowTargets lists what can be touched and is too small. A box that has its label around
// it is as large as that.
const lowTargets = `[...document.querySelectorAll("main a, nav a, button, input, select, summary")]
  .filter(e => e.checkVisibility() && e.type !== "hidden" && !e.closest(".skip"))
  .map(e => e.closest("label") ?? e).filter(e => e.getBoundingClientRect().height < 47.9).map(e => e.outerHTML.slice(0, 80)).join("\n")`

// walkByKeyboard presses Tab until the page has been left, and expects to have been at
// all that can be used. Of radio buttons with one name it is one.
func walkByKeyboard(t *testing.T, ctx context.Context) {
	t.Helper()
	evaluate[int](t, ctx, `window.was = new Set(), document.addEventListener("focusin", e => was.add(e.target)), document.activeElement.blur(), 0`)
	all := evaluate[int](t, ctx, `window.use = [...document.querySelectorAll("a[href], button, input, select, summary")]
	  .filter(e => e.checkVisibility() && !e.disabled && e.type !== "hidden" && !(e.type === "radio" && !e.checked)), use.length`)
	for range all + 2 {
		do(t, ctx, chromedp.KeyEvent("\t"))
	}
	if missed := evaluate[string](t, ctx, `use.filter(e => !was.has(e) && !e.disabled).map(e => e.outerHTML.slice(0, 80)).join("\n")`); missed != "" {
		t.Errorf("the tab key doesn't reach %s", missed)
	}
}

// TestDaysInBrowser taps a check by touch and by keyboard, takes it back, and finds the
// page whole with scripts turned off.
func TestDaysInBrowser(t *testing.T) {
	s := serveBook(t, "127.0.0.1:0")
	ctx := browser(t)
	days := "http://" + s.host() + "/clocks/1/days"
	const pad = "[data-pad]:enabled"
	do(t, ctx, chromedp.EmulateViewport(390, 800), chromedp.Navigate(days), chromedp.WaitVisible(chromedp.CSS(pad)))
	evaluate[int](t, ctx, `document.querySelector("[name=marks][value='5']").click(), document.querySelector(".big").focus(), 0`)
	press := []chromedp.Action[chromedp.Void]{chromedp.Click(chromedp.CSS(pad)), chromedp.KeyEvent(" "), chromedp.KeyEvent("\r")}
	// The hand is awaited as a person does: the page holds the browser's clock against the
	// program's, so neither can be moved on.
	begun := time.Now()
	for n, tap := range press {
		time.Sleep(time.Until(begun.Add(time.Duration(n) * 5 * time.Second)))
		do(t, ctx, tap)
	}
	do(t, ctx, chromedp.WaitReady(chromedp.CSS("#minute:focus")))
	if said := evaluate[string](t, ctx, `document.getElementById("spoken").textContent`); !strings.Contains(said, "Three taps") {
		t.Errorf("it says %q", said)
	}
	hand := begun.UTC().Round(time.Minute).Format("15:04")
	do(t, ctx, chromedp.SendKeys(chromedp.CSS("#minute"), hand+"\r"), chromedp.WaitReady(chromedp.CSS("[name=thing][value=check]")))
	if at := evaluate[string](t, ctx, `location.pathname + " " + document.getElementById("said").textContent`); at != "/clocks/1/days The check is in the book." {
		t.Errorf("the page is %s", at)
	}
	// The page without script: what posts does so all the same.
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	do(t, ctx, chromedp.Navigate(days))
	if shown := evaluate[bool](t, ctx, `document.querySelector("[data-tap]").checkVisibility()`); shown {
		t.Error("what needs a script is shown without it")
	}
	// Taken back first, what was tapped casts no doubt on what is typed.
	do(t, ctx, chromedp.Click(chromedp.CSS("details:has(#why-check-1) summary")), chromedp.SendKeys(chromedp.CSS("#why-check-1"), "misread\r"),
		chromedp.WaitReady(chromedp.CSS(".rows s")),
		chromedp.SendKeys(chromedp.CSS("#error"), "+7.5s"), chromedp.SendKeys(chromedp.CSS("#limit"), "0.2s\r"), chromedp.WaitReady(chromedp.CSS("#why-check-2")))
	if text := evaluate[string](t, ctx, `document.querySelector(".rows").textContent`); !strings.Contains(text, "taken back: misread") {
		t.Errorf("the list is %s", text)
	}
}

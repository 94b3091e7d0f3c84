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
	ctx, cancel := context.WithTimeout(t.Context(), 2*patience)
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

// awaitGuard ends the wait for what never comes; it says nothing of how long it should take.
const awaitGuard = 30 * time.Second

// await waits until a condition holds on the page, which may be loaded anew meanwhile.
func await(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	for begun := time.Now(); ; {
		_, err := chromedp.Run(ctx, chromedp.Poll[bool](condition, chromedp.WithPollingTimeout(awaitGuard)))
		if err == nil {
			return
		}
		if time.Since(begun) > awaitGuard || ctx.Err() != nil {
			t.Fatalf("%s: %v; the page says\n%s", condition, err, evaluate[string](t, ctx, `document.body.innerText`))
		}
	}
}

// media has the browser ask for light or dark pages, and for moving or still ones.
func media(t *testing.T, ctx context.Context, scheme, motion string) {
	t.Helper()
	if _, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}, {Name: "prefers-reduced-motion", Value: motion}}}); err != nil {
		t.Fatal(err)
	}
}

// withoutScript turns scripts off.
func withoutScript(t *testing.T, ctx context.Context) {
	t.Helper()
	if _, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
}

// critic looks at pages as they are at a moment.
type critic struct {
	axe      string // the check's script
	pictures string // a folder for a picture of each, "" for none
}

func newCritic(t *testing.T) critic { return critic{axeSource(t), os.Getenv("EVENBEAT_PICTURES")} }

// looks holds a page, in whatever state it is, against what holds of all: in light and dark
// and at two widths the accessibility check finds nothing serious or critical, from a small
// telephone to a wide screen nothing is wider than its place, what can be touched is 48 px
// each way, and for those who want no motion nothing moves.
func (c critic) looks(t *testing.T, ctx context.Context, state string) {
	t.Helper()
	for _, light := range []string{"light", "dark"} {
		media(t, ctx, light, "reduce")
		for _, width := range []int64{390, 1024} {
			do(t, ctx, chromedp.EmulateViewport(width, 900))
			if !evaluate[bool](t, ctx, `"axe" in window`) {
				evaluate[int](t, ctx, c.axe+";0")
			}
			var found []struct {
				ID, Impact, Help string
				Nodes            []struct{ HTML, FailureSummary string }
			}
			text := evaluate[string](t, ctx, `axe.run({resultTypes: ["violations"]}).then(r => JSON.stringify(r.violations))`)
			if err := json.Unmarshal([]byte(text), &found); err != nil {
				t.Fatal(err)
			}
			for _, f := range found {
				if f.Impact == "serious" || f.Impact == "critical" {
					t.Errorf("%s, %s, %d px: %s (%s): %s %+v", state, light, width, f.ID, f.Impact, f.Help, f.Nodes)
				}
			}
			c.picture(t, ctx, fmt.Sprintf("%s-%d-%s", strings.ReplaceAll(state, " ", "-"), width, light))
		}
	}
	await(t, ctx, `[...document.images].every(i => i.complete)`)
	if empty := evaluate[string](t, ctx, `[...document.images].filter(i => !i.naturalWidth).map(i => i.currentSrc).join("\n")`); empty != "" {
		t.Errorf("%s: pictures that don't come: %s", state, empty)
	}
	if moving := evaluate[string](t, ctx, moving); moving != "" {
		t.Errorf("%s: what moves is %s", state, moving)
	}
	for _, width := range []int64{2560, 360} {
		do(t, ctx, chromedp.EmulateViewport(width, 900))
		if out := evaluate[string](t, ctx, spills); out != "" {
			t.Errorf("%s: wider than its place in a window of %d px: %s", state, width, out)
		}
		if small := evaluate[string](t, ctx, smallTargets); small != "" {
			t.Errorf("%s, %d px: less than 48 px: %s", state, width, small)
		}
	}
}

func (c critic) picture(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	if c.pictures == "" {
		return
	}
	shot, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(c.pictures, name+".png"), shot, 0o600); err != nil {
		t.Fatal(err)
	}
}

// spills lists what runs out of its place, but for what is meant to be scrolled.
const spills = `(() => {
  const scrolls = x => x && (/auto|scroll/.test(getComputedStyle(x).overflowX) || scrolls(x.parentElement));
  const wide = document.documentElement.clientWidth;
  return [...document.querySelectorAll("body *")].filter(x => x.checkVisibility() && !x.closest(".unseen, .skip, svg") && !scrolls(x) &&
    (x.getBoundingClientRect().right > wide + 1 || getComputedStyle(x).display === "block" && x.scrollWidth > x.clientWidth + 1))
    .map(x => x.outerHTML.slice(0, 80).replaceAll("\n", " ")).join("\n");
})()`

// foreign lists what the page has from a text that a person or a device gave it.
const foreign = `[...document.querySelectorAll("script:not([src]), [onerror], [src=x]")].map(e => e.outerHTML).join("\n")`

// smallTargets lists what can be touched and is too small. A box that has its label around
// it is as large as that.
const smallTargets = `[...document.querySelectorAll("main a, nav a, button, input, select, summary")]
  .filter(e => e.checkVisibility() && e.type !== "hidden" && !e.closest(".skip"))
  .map(e => e.closest("label") ?? e).filter(e => e.getBoundingClientRect().height < 47.9 || e.getBoundingClientRect().width < 47.9)
  .map(e => e.outerHTML.slice(0, 80)).join("\n")`

// moving lists what moves or would.
const moving = `[...document.querySelectorAll("*")].filter(e => {
  const s = getComputedStyle(e);
  return s.animationName !== "none" || s.transitionDuration.split(", ").some(d => d !== "0s") || s.scrollBehavior === "smooth";
}).map(e => e.outerHTML.slice(0, 80)).join("\n")`

// walkByKeyboard presses Tab until the page has been left, and expects to have been at
// all that can be used, in the order in which it is read, and to have seen each time where
// it was. Of radio buttons with one name it is one.
func walkByKeyboard(t *testing.T, ctx context.Context) {
	t.Helper()
	all := evaluate[int](t, ctx, `window.use = [...document.querySelectorAll("a[href], button, input, select, summary, [tabindex='0']")]
	  .filter(e => e.checkVisibility() && !e.disabled && e.type !== "hidden")
	  .filter(e => e.type !== "radio" || e === ([...document.getElementsByName(e.name)].find(o => o.checked) ?? document.getElementsByName(e.name)[0])),
	  document.activeElement.blur(), use[0].focus(), window.was = [], window.unseen = [], window.walk?.abort(), window.walk = new AbortController(),
	  document.addEventListener("focusin", e => {
	    const s = getComputedStyle(e.target);
	    was.push(e.target);
	    if (s.outlineStyle === "none" || parseFloat(s.outlineWidth) < 2) unseen.push(e.target);
	  }, {signal: walk.signal}), use.length`)
	for range all + 1 { // once more, where the browser's own place is among them
		do(t, ctx, chromedp.KeyEvent("\t"))
	}
	if met := evaluate[string](t, ctx, `const text = e => e.outerHTML.slice(0, 80);
	  [...use.filter(e => !was.includes(e)).map(e => "not reached: " + text(e)), ...unseen.map(e => "not seen: " + text(e)),
	   ...was.filter((e, n) => n > 0 && e !== use[(use.indexOf(was[n - 1]) + 1) % use.length]).map(e => "out of its order: " + text(e))].join("\n")`); met != "" {
		t.Errorf("by the keyboard: %s", met)
	}
}

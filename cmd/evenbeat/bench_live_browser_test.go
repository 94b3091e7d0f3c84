//go:build browser && unix

package main

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"evenbeat/devices/pseudo"
	"evenbeat/devices/simulate"
)

// bystander is who sees the page: a book with a clock of which little is known, a caliper
// and a beat sensor at ports that the settings name, and a browser.
type bystander struct {
	critic
	*served
	chromium        context.Context
	caliper, sensor *os.File
	at              map[*os.File]string // the ports
}

func newBystander(t *testing.T) *bystander {
	t.Helper()
	b := &bystander{critic: newCritic(t), at: map[*os.File]string{}}
	for _, f := range []**os.File{&b.caliper, &b.sensor} {
		instrument, far, err := pseudo.Terminal()
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() {
			_ = instrument.Close()
			_ = far.Close()
		})
		*f, b.at[instrument] = instrument, far.Name()
	}
	dir := t.TempDir()
	if out, err := evenbeat(t, dir, "clock", "add", "Landing").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	b.served = serveIn(t, dir, "127.0.0.1:0", b.at[b.caliper], b.at[b.sensor])
	b.chromium = browser(t)
	return b
}

// tab opens an address in a tab of its own. Closing it is what a tired hand does.
func (b *bystander) tab(t *testing.T, path string, opts ...chromedp.ContextOption) (ctx context.Context, shut func()) {
	t.Helper()
	ctx, stop := chromedp.NewContext(b.chromium, opts...)
	t.Cleanup(stop)
	do(t, ctx, chromedp.EmulateViewport(390, 900), chromedp.Navigate("http://"+b.host()+path))
	return ctx, func() {
		if err := chromedp.Cancel(ctx); err != nil {
			t.Error(err)
		}
	}
}

func click(css string) chromedp.Action[chromedp.Void] { return chromedp.Click(chromedp.CSS(css)) }

func enter(css, text string) chromedp.Action[chromedp.Void] {
	return chromedp.SendKeys(chromedp.CSS(css), text)
}

// reads is a condition that an element, of which there may be none, holds a text.
func reads(css, text string) string {
	return fmt.Sprintf("!!document.querySelector(%q)?.textContent.replace(/\\s+/g, ' ').includes(%q)", css, text)
}

func (b *bystander) send(t *testing.T, to *os.File, text string) {
	t.Helper()
	if _, err := to.WriteString(text); err != nil {
		t.Fatal(err)
	}
}

// shown is what the parts of a session's page show, be they folded or not. How long a
// silence has lasted differs from look to look.
const shown = `[...document.querySelectorAll("[data-part]")].map(e => e.dataset.part + ": " + e.textContent.trim().replace(/\s+/g, " ").replace(/heard for (\d+ s|less than a second)/, "heard")).join("\n")`

// same opens an address in another browser, and expects to see there what this one shows.
func (b *bystander) same(t *testing.T, ctx context.Context, path string) {
	t.Helper()
	other, shut := b.tab(t, path, chromedp.WithNewBrowserContext())
	defer shut()
	want := evaluate[string](t, ctx, shown)
	if got := evaluate[string](t, other, shown); got != want {
		t.Errorf("another browser shows\n%s\nand this one\n%s", got, want)
	}
}

// play has the sensor hear a clock that beats ten times a second and loses, until stop is
// called.
func (b *bystander) play(t *testing.T) (stop func()) {
	t.Helper()
	cfg := simulate.EvenClock(5)
	cfg.BeatsPerHour, cfg.Rate, cfg.Span = 36000, -40, 300
	clock, err := simulate.NewClock(cfg)
	if err != nil {
		t.Fatal(err)
	}
	ctx, end := context.WithCancel(t.Context())
	over := make(chan struct{})
	go func() {
		defer close(over)
		began := time.Now()
		for at, line := range clock.Lines(0, cfg.Span) {
			select {
			case <-time.After(time.Duration(at) - time.Since(began)):
			case <-ctx.Done():
				return
			}
			if _, err := b.sensor.Write(line); err != nil {
				return
			}
		}
	}()
	stop = func() {
		end()
		<-over
	}
	t.Cleanup(stop)
	return stop
}

// TestBenchDayInBrowser is a day at the bench in a browser, with instruments on serial
// lines: a clock is added, its mainspring measured, the clock timed and its dial checked.
// Each is left in the middle, with its tab closed, and found again as it was; in each state
// the page is looked at by the critic.
func TestBenchDayInBrowser(t *testing.T) {
	b := newBystander(t)
	b.addClock(t)
	b.measure(t)
	b.timeAndCheck(t)
	b.readSheet(t)
}

// addClock adds a clock, whose train is checked as it is typed.
func (b *bystander) addClock(t *testing.T) {
	t.Helper()
	page, shut := b.tab(t, "/")
	await(t, page, reads(".card", "Landing"))
	do(t, page, click(`a[href="/clocks/new"]`), enter("#name", "Hall"), enter("#train", "96/8,80/0,30"))
	await(t, page, reads("#follows .fault", "80/0"))
	b.looks(t, page, "train wrong")
	shut()
	page, shut = b.tab(t, "/clocks/new")
	defer shut()
	do(t, page, enter("#name", "Hall"), enter("#train", "96/8,80/10,75/10,80/8,30"))
	await(t, page, reads("#follows", "36000 beats an hour, one every 0.1 s"))
	b.looks(t, page, "train right")
	do(t, page, enter("#train", "\r"))
	await(t, page, reads("#said", "The clock is in the book"))
}

// measure measures a mainspring by a caliper.
func (b *bystander) measure(t *testing.T) {
	t.Helper()
	const place = "/clocks/2/measuring"
	page, shut := b.tab(t, place)
	await(t, page, reads("form", "from the settings"))
	b.looks(t, page, "measuring at rest")
	do(t, page, click(fmt.Sprintf("input[name=port][value=%q]", b.at[b.caliper])), click("form[action$=measuring] button"))
	await(t, page, reads(".run", "Waiting for the instrument: press its button."))
	await(t, page, reads("[data-part=asked]", "bore 1 of 3"))
	await(t, page, `!!document.querySelector(".drawing")`)
	b.looks(t, page, "measuring asked")
	walkByKeyboard(t, page)
	b.send(t, b.caliper, "0.01mm\r\n63.50mm\r\n")
	await(t, page, reads(".reading.kept", "63.50"))
	b.looks(t, page, "measuring kept")
	if high := evaluate[float64](t, page, `parseFloat(getComputedStyle(document.querySelector(".reading .big")).fontSize)`); high < 100 {
		t.Errorf("the reading is %g px high", high)
	}
	b.same(t, page, place)

	// In the middle the tab is closed, and readings come all the same.
	shut()
	b.send(t, b.caliper, "64.90mm\r\n")
	page, shut = b.tab(t, place)
	await(t, page, reads(".reading.doubtful", "64.90"))
	await(t, page, reads("[data-part=asked]", "again to be sure"))
	b.looks(t, page, "measuring doubtful")
	spoken := b.listens(t, page)
	b.send(t, b.caliper, "0.00mm\r\n") // the jaws are closed
	await(t, page, reads(".readings .undone", "64.90"))
	b.looks(t, page, "measuring undone")
	b.send(t, b.caliper, "63.52mm\r\n")
	await(t, page, reads(".reading.kept", "63.52"))
	spoken("Taken back.", "bore 63.52 mm, kept.")

	// What is typed has the same rules. Keys alone do it.
	do(t, page, chromedp.Focus(chromedp.CSS("#line")), chromedp.KeyEvent("banana\r"))
	await(t, page, reads("[data-part=notes]", `Not taken: "banana"`))
	b.looks(t, page, "measuring fault")
	do(t, page, chromedp.KeyEvent("63.51mm\r"))
	await(t, page, reads("[data-part=asked]", "depth"))
	do(t, page, chromedp.Focus(chromedp.CSS("button[value=skip]")), chromedp.KeyEvent(" "))
	await(t, page, reads("[data-part=asked]", "arbor 1 of 2"))
	for _, line := range []string{"19.00mm", "19.01mm"} {
		b.send(t, b.caliper, line+"\r\n")
		await(t, page, reads(".reading.kept", line[:5]))
	}
	do(t, page, chromedp.Focus(chromedp.CSS("#jump-strip")), chromedp.KeyEvent("\r"))
	await(t, page, reads("[data-part=asked]", "strip 1"))
	b.send(t, b.caliper, "0.45mm\r\n")
	await(t, page, reads("[data-part=verdict]", "So far:"))
	await(t, page, `!!document.querySelector("[data-part=verdict] img")`)
	b.looks(t, page, "measuring verdict")
	walkByKeyboard(t, page)
	b.same(t, page, place)
	shut()
	page, shut = b.tab(t, place)
	defer shut()
	await(t, page, reads("[data-part=verdict]", "So far:"))
	do(t, page, click("button[value=finish]"))
	await(t, page, reads("form", "Begin measuring"))
	b.looks(t, page, "measuring finished")
}

// listens hears what the page says to those who don't see it. What it returns expects to
// have been told that, each once.
func (b *bystander) listens(t *testing.T, ctx context.Context) func(each ...string) {
	t.Helper()
	evaluate[int](t, ctx, `window.heard = [], new MutationObserver(() => heard.push(document.getElementById("spoken").textContent))
	  .observe(document.getElementById("spoken"), {childList: true, characterData: true, subtree: true}), 0`)
	return func(each ...string) {
		t.Helper()
		await(t, ctx, fmt.Sprintf("heard.length >= %d", len(each)))
		heard := evaluate[[]string](t, ctx, `heard`)
		for i, want := range each {
			if len(heard) != len(each) || !strings.Contains(heard[i], want) {
				t.Errorf("it says %q, want %q, each once", heard, each)
			}
		}
		if other := evaluate[int](t, ctx, `document.querySelectorAll(".run [aria-live], .run [role=status], .run [role=alert], .run [role=log]").length`); other > 0 {
			t.Errorf("%d parts besides would be spoken", other)
		}
	}
}

// wide is the width of the interval of the rate, in s/day.
const wide = `Number(document.querySelector("[data-part=rate] .says")?.textContent.match(/± ([\d.]+)/)?.[1] ?? NaN)`

// timeAndCheck times the clock, and checks its dial by three taps while the beats are heard
// with no tab open.
func (b *bystander) timeAndCheck(t *testing.T) {
	t.Helper()
	const place, days = "/clocks/2/timing", "/clocks/2/days"
	page, shut := b.tab(t, place)
	b.looks(t, page, "timing at rest")
	do(t, page, click(fmt.Sprintf("input[name=port][value=%q]", b.at[b.sensor])), click("form[action$=timing] button"))
	await(t, page, reads("[data-part=heard]", "Waiting for the sensor to speak."))
	b.looks(t, page, "timing searching")
	walkByKeyboard(t, page)
	stop := b.play(t)
	await(t, page, reads("[data-part=heard]", "beats are in the book"))
	b.looks(t, page, "timing heard")
	await(t, page, `!!document.querySelector(".closing rect")`)
	first := evaluate[float64](t, page, wide)
	shut()

	b.tapThree(t, days)

	page, shut = b.tab(t, place)
	defer shut()
	await(t, page, fmt.Sprintf("%s < %g", wide, first/2))
	b.looks(t, page, "timing estimate")
	stop()
	await(t, page, reads("[data-part=heard]", "Nothing heard for"))
	b.looks(t, page, "timing silent")
	b.same(t, page, place)
	do(t, page, chromedp.Focus(chromedp.CSS("form[action$=finish] button")), chromedp.KeyEvent("\r"))
	await(t, page, reads("form", "Begin timing"))
	b.looks(t, page, "timing ended")
}

// tapThree taps three times as the hand passes its marks, takes the check back and reads
// the days.
func (b *bystander) tapThree(t *testing.T, days string) {
	t.Helper()
	const pad = "[data-pad]:enabled"
	page, shut := b.tab(t, days)
	do(t, page, chromedp.WaitVisible(chromedp.CSS(pad)), chromedp.Click(chromedp.CSS(pad)))
	await(t, page, reads("[data-count]", "1 of 3 taps"))
	b.looks(t, page, "days tapped once")
	shut() // a tap that isn't kept leaves nothing
	page, shut = b.tab(t, days)
	defer shut()
	await(t, page, reads("main", "Nothing is recorded yet"))
	do(t, page, chromedp.WaitVisible(chromedp.CSS(pad)), click("[name=marks][value='5']"), chromedp.Focus(chromedp.CSS(pad)))
	press := []chromedp.Action[chromedp.Void]{click(pad), chromedp.KeyEvent(" "), chromedp.KeyEvent("\r")}
	// The hand is awaited as a person does: the page holds the browser's clock against the
	// program's, so neither can be moved on.
	begun := time.Now()
	for n, tap := range press {
		<-time.After(time.Until(begun.Add(time.Duration(n) * 5 * time.Second)))
		do(t, page, tap)
	}
	do(t, page, chromedp.WaitReady(chromedp.CSS("#minute:focus")))
	await(t, page, reads("#spoken", "Three taps"))
	b.looks(t, page, "days tapped")
	do(t, page, chromedp.KeyEvent(begun.UTC().Round(time.Minute).Format("15:04")+"\r"))
	await(t, page, reads("#said", "The check is in the book."))
	b.looks(t, page, "days checked")
	do(t, page, click("details:has(#why-check-1) summary"), enter("#why-check-1", "misread\r"))
	await(t, page, reads(".rows", "taken back: misread"))
	b.looks(t, page, "days taken back")
	walkByKeyboard(t, page)
}

// readSheet opens the sheet and the customer's page.
func (b *bystander) readSheet(t *testing.T) {
	t.Helper()
	for path, want := range map[string]string{"/clocks/2/sheet": "63.52", "/clocks/2/customer": "Hall", "/clocks/2/days": "taken back: misread", "/": "Hall"} {
		page, shut := b.tab(t, path)
		await(t, page, reads("body", want))
		b.looks(t, page, "day's end "+strings.Trim(path, "/"))
		shut()
	}
}

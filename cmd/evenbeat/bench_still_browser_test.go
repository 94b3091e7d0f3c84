//go:build browser && unix

package main

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// lookAgain loads a page anew until a condition holds, as one does who has no script.
func lookAgain(t *testing.T, ctx context.Context, condition string) {
	t.Helper()
	for begun := time.Now(); ; {
		do(t, ctx, chromedp.Click(chromedp.CSS("noscript a")), chromedp.WaitReady(chromedp.CSS("main")))
		if evaluate[bool](t, ctx, condition) {
			return
		}
		if time.Since(begun) > awaitGuard {
			t.Fatalf("%s; the page says\n%s", condition, evaluate[string](t, ctx, `document.body.innerText`))
		}
	}
}

// TestBenchWithoutScriptInBrowser measures and times by forms and links alone.
func TestBenchWithoutScriptInBrowser(t *testing.T) {
	b := newBystander(t)
	page, shut := b.tab(t, "/")
	defer shut()
	withoutScript(t, page)
	for text, steps := range map[string]func(){
		"measuring": func() {
			b.send(t, b.caliper, "63.50mm\r\n")
			lookAgain(t, page, reads(".reading.kept", "63.50"))
			do(t, page, enter("#line", "banana\r"), chromedp.WaitReady(chromedp.CSS(".note")))
			do(t, page, enter("#line", "63.52mm\r"), chromedp.WaitReady(chromedp.CSS(".readings li + li")))
			do(t, page, click("button[value=undo]"), chromedp.WaitReady(chromedp.CSS(".readings .undone")))
			if !evaluate[bool](t, page, reads(".readings .undone", "63.52")) {
				t.Errorf("undone is %s", evaluate[string](t, page, `document.querySelector(".readings").textContent`))
			}
			b.same(t, page, "/clocks/1/measuring")
			do(t, page, click("button[value=finish]"))
		},
		"timing": func() {
			stop := b.play(t)
			lookAgain(t, page, reads("[data-part=heard]", "beats are in the book"))
			stop()
			do(t, page, click("form[action$=finish] button"))
		},
	} {
		from := b.at[map[string]*os.File{"measuring": b.caliper, "timing": b.sensor}[text]]
		begin := fmt.Sprintf("form[action$=%s] button", text)
		do(t, page, chromedp.Navigate("http://"+b.host()+"/clocks/1/"+text), click(fmt.Sprintf("input[name=port][value=%q]", from)),
			click(begin), chromedp.WaitReady(chromedp.CSS("[data-mode=goes]")))
		steps()
		do(t, page, chromedp.WaitReady(chromedp.CSS("[data-mode=none] "+begin)))
	}
}

// TestBenchBesideTerminalInBrowser sees on the page what a session in a terminal keeps.
func TestBenchBesideTerminalInBrowser(t *testing.T) {
	b := newBystander(t)
	measure := evenbeat(t, b.dir, "measure", "--plan", "mainspring", "--profile", "caliper", "--port", b.at[b.caliper])
	if _, err := measure.StdinPipe(); err != nil { // open: its end would end the session
		t.Fatal(err)
	}
	if err := measure.Start(); err != nil {
		t.Fatal(err)
	}
	page, shut := b.tab(t, "/clocks/1/measuring")
	defer shut()
	await(t, page, reads(".elsewhere", "runs in another program"))
	b.looks(t, page, "measuring elsewhere")
	b.send(t, b.caliper, "63.50mm\r\n")
	await(t, page, reads(".reading.kept", "63.50"))
	if err := measure.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := measure.Wait(); err != nil {
		t.Error(err)
	}
	await(t, page, reads("form", "Begin measuring"))
}

// TestInstrumentsInBrowser listens at a port: what arrives is shown as it comes.
func TestInstrumentsInBrowser(t *testing.T) {
	b := newBystander(t)
	page, shut := b.tab(t, "/instruments")
	defer shut()
	b.looks(t, page, "instruments at rest")
	do(t, page, click(fmt.Sprintf("input[name=port][value=%q]", b.at[b.caliper])), click("form[action$=listen] button"))
	await(t, page, reads("article.card", "Capture what arrives"))
	b.looks(t, page, "instruments listening")
	for n := range 4 {
		b.send(t, b.caliper, fmt.Sprintf("12.3%d mm\r\n", n))
	}
	await(t, page, reads("article.card", "Lines to keep in the settings file"))
	walkByKeyboard(t, page)
	b.looks(t, page, "instruments heard")
	do(t, page, chromedp.Focus(chromedp.CSS("button[value=capture]")), chromedp.KeyEvent(" "))
	await(t, page, reads("article.card", "End the capture"))
	b.looks(t, page, "instruments capturing")
	b.send(t, b.caliper, hostileImage+"\r\n")
	await(t, page, reads(".bytes", "<img src"))
	if taken := evaluate[string](t, page, foreign); taken != "" {
		t.Errorf("taken for a part of the page: %s", taken)
	}
}

// TestDaysBesideTerminalInBrowser sees on the page of the days what was checked in a
// terminal. What a person has begun to type there stays.
func TestDaysBesideTerminalInBrowser(t *testing.T) {
	b := newBystander(t)
	page, shut := b.tab(t, "/clocks/1/days")
	defer shut()
	const why = "#why-check-1"
	for n, off := range []string{"+1s", "+2s"} {
		if n > 0 {
			do(t, page, click("details:has("+why+") summary"), enter(why, "misread"))
		}
		if out, err := evenbeat(t, b.dir, "check", "--error", off, "--yes").CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		await(t, page, reads("[data-part=rows]", fmt.Sprintf("check %d", n+1)))
	}
	if kept := evaluate[bool](t, page, `document.activeElement === document.querySelector("`+why+`") && document.activeElement.checkVisibility() && document.activeElement.value === "misread"`); !kept {
		t.Error("what was typed is gone")
	}
	b.looks(t, page, "days checked elsewhere")
}

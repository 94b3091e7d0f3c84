//go:build browser

package plots

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// openSheet opens the example sheet in a browser of its own and returns what the
// console said while it loaded. Run with go test -tags browser; it wants chromium.
func openSheet(t *testing.T) (context.Context, []chromedp.ConsoleMessage) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "sheet.html")
	if err := os.WriteFile(path, []byte(mustSheet(t, sheetExample())), 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewContext(ctx)
	t.Cleanup(stop)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("the browser doesn't start (apt-get install chromium): %v", err)
	}
	said := chromedp.Console(ctx)
	const end = "the page is loaded"
	if err := chromedp.Do(ctx, chromedp.Navigate("file://"+path)); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Run(ctx, chromedp.Evaluate[int](`console.log("`+end+`"), 0`)); err != nil {
		t.Fatal(err)
	}
	var messages []chromedp.ConsoleMessage
	for m, err := range said {
		if err != nil {
			t.Fatal(err)
		}
		if m.Text == end {
			break
		}
		messages = append(messages, m)
	}
	return ctx, messages
}

// asPrinted makes the style rules for print hold on the screen, and lists what
// stands out at the right of the page, or is higher than a sheet and would be cut.
const asPrinted = `(() => {
	for (const r of document.styleSheets[0].cssRules)
		if (r instanceof CSSMediaRule && r.media.mediaText === "print") r.media.mediaText = "all";
	const wide = document.documentElement.clientWidth + 1;
	const out = [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > wide);
	const high = [...document.querySelectorAll("figure, .cautions, .hand")].filter(e => e.getBoundingClientRect().height > HIGH);
	return out.concat(high).map(e => e.tagName + " " + e.textContent.trim().slice(0, 40));
})()`

func TestSheetPrints(t *testing.T) {
	ctx, messages := openSheet(t)
	for _, m := range messages {
		t.Errorf("the console says: %s %s", m.Type, m.Text)
	}
	const mm = 96 / 25.4             // CSS pixels
	const across, down = 2 * 14, 22. // both margins of the style sheet's @page
	for _, paper := range []struct {
		name          string
		width, height float64 // mm
		size          chromedp.PaperSize
	}{{"A4", 210, 297, chromedp.PaperA4}, {"Letter", 215.9, 279.4, chromedp.PaperLetter}} {
		t.Run(paper.name, func(t *testing.T) {
			width, height := int64((paper.width-across)*mm), (paper.height-down)*mm
			if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 1000)); err != nil {
				t.Fatal(err)
			}
			script := regexp.MustCompile(`HIGH`).ReplaceAllString(asPrinted, strconv.Itoa(int(height)))
			bad, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](script))
			if err != nil {
				t.Fatal(err)
			}
			if len(bad) > 0 {
				t.Errorf("these leave the paper: %q", bad)
			}
			pdf, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper.size)))
			if err != nil {
				t.Fatal(err)
			}
			pages := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(pdf, -1))
			if !bytes.HasPrefix(pdf, []byte("%PDF-")) || pages < 3 || pages > 7 {
				t.Errorf("%d pages of %.8q, want 3 to 7 of PDF: six figures go two a page", pages, pdf)
			}
		})
	}
}

// asShown lists the words of figures that take another room than they were laid out for, in
// whatever typeface the browser found, or that are lower than so many pixels.
const asShown = `[...document.querySelectorAll("svg text")].filter(e => e.getClientRects().length).map(e => {
	const svg = e.ownerSVGElement, scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
	return [e.textContent, e.getComputedTextLength() / e.getAttribute("textLength"), e.getAttribute("font-size").replace("px", "") * scale];
}).filter(([, wide, high]) => Math.abs(wide - 1) > 0.02 || high < LEAST).map(x => x.join(" "))`

// TestSheetOnScreens asks that nothing makes the page scroll sideways, and that the words
// of figures are as wide as they were laid out, and high enough to be read on a phone.
func TestSheetOnScreens(t *testing.T) {
	ctx, _ := openSheet(t)
	for width, least := range map[int64]string{360: "12", 390: "12", 768: "9.5", 1280: "9.5"} {
		if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 900)); err != nil {
			t.Fatal(err)
		}
		got, err := chromedp.Run(ctx, chromedp.Evaluate[int64](`document.documentElement.scrollWidth`))
		if err != nil {
			t.Fatal(err)
		}
		if got > width {
			t.Errorf("at %d pixels the page is %d wide", width, got)
		}
		off, err := chromedp.Run(ctx, chromedp.Evaluate[[]string](strings.ReplaceAll(asShown, "LEAST", least)))
		if err != nil {
			t.Fatal(err)
		}
		if len(off) > 0 {
			t.Errorf("at %d pixels these words are wider or narrower than laid out, or lower than %s: %q", width, least, off)
		}
	}
}

//go:build browser && unix

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"evenbeat/devices/simulate"
)

// easel looks at the states of the page, one after the other.
type easel struct {
	*testing.T
	ctx      context.Context
	url      string
	pictures string // the folder for a picture of each state; "" takes none
}

// at opens an address.
func (e *easel) at(path string) {
	e.Helper()
	do(e.T, e.ctx, chromedp.Navigate(e.url+path))
}

// await waits until the page says something.
func (e *easel) await(text string) {
	e.Helper()
	ctx, stop := context.WithTimeout(e.ctx, patience/4)
	defer stop()
	if err := chromedp.Do(ctx, chromedp.WaitReady(chromedp.Search(fmt.Sprintf("//main//*[text()[contains(., %q)]]", text)))); err != nil {
		e.Fatalf("waiting for %q: %v: %s", text, err, evaluate[string](e.T, e.ctx, "document.body.innerText"))
	}
}

// press clicks the first thing that a selector finds.
func (e *easel) press(selector string) {
	e.Helper()
	do(e.T, e.ctx, chromedp.Click(chromedp.CSS(selector)))
}

// typed fills in a field.
func (e *easel) typed(id, text string) {
	e.Helper()
	evaluate[int](e.T, e.ctx, fmt.Sprintf(`document.getElementById(%q).value = "", 0`, id))
	do(e.T, e.ctx, chromedp.SendKeys(chromedp.CSS("#"+id), text))
}

// drawn waits until all images are there, and fails where one can't be.
const drawn = `Promise.all([...document.images].map(i => i.decode())).then(() => 0)`

// state holds that nothing on the page is wider than its window, whatever its size, and
// takes pictures of it.
func (e *easel) state(name string) {
	e.Helper()
	for _, w := range []int64{360, 390, 1024, 1920, 2560} {
		do(e.T, e.ctx, chromedp.EmulateViewport(w, max(800, w*9/16)))
		evaluate[int](e.T, e.ctx, drawn)
		if out := evaluate[string](e.T, e.ctx, spills); out != "" {
			e.Errorf("%s: wider than its place in a window of %d px: %s", name, w, out)
		}
		if e.pictures == "" {
			continue
		}
		for _, light := range []string{"light", "dark"} {
			media(e.T, e.ctx, light, "no-preference")
			shot, err := chromedp.Run(e.ctx, chromedp.FullScreenshot(100))
			if err != nil {
				e.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(e.pictures, fmt.Sprintf("%s-%d-%s.png", name, w, light)), shot, 0o600); err != nil {
				e.Fatal(err)
			}
		}
		media(e.T, e.ctx, "light", "no-preference")
	}
}

// Pictures of README: how wide they are, and the most bytes that one may have.
const (
	pictureWide  = 1024
	pictureBytes = 120 << 10
)

// forReadme takes README's picture of a state with -update. Else it holds that the picture
// there is of the page as it stands: the same words and the same style. The pixels are not
// compared, since each browser draws letters its own way.
func (e *easel) forReadme(name string, high int64) {
	e.Helper()
	do(e.T, e.ctx, chromedp.EmulateViewport(pictureWide, high))
	media(e.T, e.ctx, "light", "no-preference")
	evaluate[int](e.T, e.ctx, "scrollTo(0, 0), "+drawn)
	shows := evaluate[string](e.T, e.ctx, `fetch("/style.css").then(r => r.text()).then(style => style + document.body.innerText)`)
	sum := sha256.Sum256([]byte(regexp.MustCompile(`/dev/\S+|\d+`).ReplaceAllString(shows, "#")))
	file := filepath.Join(moduleRoot(e.T), "testdata", "pictures", name)
	compare(e.T, file+".sum", []byte(hex.EncodeToString(sum[:])+"\n"))
	if *update {
		shot, err := chromedp.Run(e.ctx, chromedp.CaptureScreenshot())
		if err != nil {
			e.Fatal(err)
		}
		if err := os.WriteFile(file+".png", slim(e.T, shot), 0o666); err != nil {
			e.Fatal(err)
		}
	}
	b, err := os.ReadFile(file + ".png")
	if err != nil {
		e.Fatal(err)
	}
	size, err := png.DecodeConfig(bytes.NewReader(b))
	if err != nil || size.Width != pictureWide || int64(size.Height) != high || len(b) > pictureBytes {
		e.Errorf("%s.png: %d × %d px, %d bytes, %v; want %d × %d and no more than %d", name, size.Width, size.Height, len(b), err, pictureWide, high, pictureBytes)
	}
	readme, err := os.ReadFile(filepath.Join(moduleRoot(e.T), "README.md"))
	if err != nil || !strings.Contains(string(readme), "testdata/pictures/"+name+".png") {
		e.Errorf("README doesn't show %s.png: %v", name, err)
	}
}

// slim writes a picture anew with the 256 shades that it has most of: nobody sees the
// difference on a page of few colours, and a third of the bytes do.
func slim(t *testing.T, shot []byte) []byte {
	t.Helper()
	from, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		t.Fatal(err)
	}
	size := from.Bounds()
	count := map[color.Color]int{}
	for i := range size.Dx() * size.Dy() {
		count[from.At(i%size.Dx(), i/size.Dx())]++
	}
	shades := slices.SortedFunc(maps.Keys(count), func(a, b color.Color) int { return count[b] - count[a] })
	to := image.NewPaletted(size, shades[:min(len(shades), 256)])
	at := map[color.Color]uint8{}
	for _, c := range shades {
		at[c] = uint8(to.Palette.Index(c))
	}
	for i := range size.Dx() * size.Dy() {
		to.SetColorIndex(i%size.Dx(), i/size.Dx(), at[from.At(i%size.Dx(), i/size.Dx())])
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, to); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// plug makes an instrument with its port.
func plug(t *testing.T) *simulate.Link {
	t.Helper()
	l, err := simulate.Pair()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

// send has an instrument send a line.
func send(t *testing.T, to *simulate.Link, line string) {
	t.Helper()
	if _, err := to.Instrument.Write([]byte(line + "\r\n")); err != nil {
		t.Fatal(err)
	}
}

// TestBenchPicturesInBrowser brings about each state of each place, with a week's book and
// simulated instruments. Nothing is clipped at any width, the last reading can be read from
// far away, and README's pictures show the page as it is. EVENBEAT_PICTURES names a folder
// for pictures of all states; -update takes README's anew.
func TestBenchPicturesInBrowser(t *testing.T) {
	dir := t.TempDir()
	if out, err := evenbeat(t, dir, "demo", "--out", dir).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if out, err := evenbeat(t, dir, "clock", "add", "Bracket clock, study", "--beats-per-hour", "18000").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if out, err := evenbeat(t, dir, "clock", "use", "Marsh Lane regulator").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	caliper, sensor, heard := plug(t), plug(t), plug(t)
	for _, part := range []struct {
		name string
		look func(*easel)
	}{
		{"clocks", picturesOfClocks},
		{"days", picturesOfDays},
		{"sheet", picturesOfSheet},
		{"measuring", func(e *easel) { picturesOfMeasuring(e, caliper) }},
		{"timing", func(e *easel) { picturesOfTiming(e, sensor) }},
		{"instruments", func(e *easel) { picturesOfInstruments(e, heard) }},
	} {
		t.Run(part.name, func(t *testing.T) {
			s := serveIn(t, dir, "127.0.0.1:0", caliper.Name, sensor.Name, heard.Name)
			e := &easel{t, browser(t), "http://" + s.host(), os.Getenv("EVENBEAT_PICTURES")}
			do(t, e.ctx, chromedp.EmulateViewport(pictureWide, 800))
			part.look(e)
		})
	}
}

func picturesOfClocks(e *easel) {
	e.at("/clocks/new")
	e.state("newclock")
	e.typed("name", "Longcase, hall")
	e.typed("train", "96/8,80/10,75/10,30")
	e.await("beats an hour, one every")
	e.state("newclock-checked")
	e.typed("train", "96/8,eighty/10")
	e.press("main form button")
	e.await("eighty")
	e.state("newclock-error")
	e.typed("train", "96/8,80/10,75/10,30")
	e.press("main form button")
	e.await("is in the book")
	e.at("/")
	e.await("Longcase, hall")
	e.state("clocks")
	e.forReadme("bench-clocks", 900)
	e.at("/clocks/99/days")
	e.state("missing")
}

func picturesOfDays(e *easel) {
	e.at("/clocks/1/days")
	do(e.T, e.ctx, chromedp.WaitEnabled(chromedp.CSS("[data-pad]")))
	e.state("days")
	e.forReadme("bench-days", 1000)
	e.press("[data-pad]")
	e.await("1 of 3 taps")
	e.state("days-tap")
	e.press("[data-pad]")
	e.press("[data-pad]")
	e.await("Now write the minute")
	e.state("days-tapped")
	e.typed("minute", "half past ten")
	e.press("[data-tap] form button:not([type])")
	do(e.T, e.ctx, chromedp.WaitReady(chromedp.CSS("[aria-invalid]")))
	e.state("days-tap-error")
	e.at("/clocks/2/days")
	e.state("days-none")
}

func picturesOfSheet(e *easel) {
	for _, name := range []string{"sheet", "customer"} {
		e.at("/clocks/1/" + name)
		e.state(name)
		e.at("/clocks/2/" + name)
		e.state(name + "-none")
	}
}

func picturesOfMeasuring(e *easel, caliper *simulate.Link) {
	e.at("/clocks/1/measuring")
	e.state("measuring")
	e.at("/clocks/2/measuring")
	e.state("measuring-none")
	e.press("[name=port][value='" + caliper.Name + "']")
	e.press("main form button")
	e.await("No reading yet")
	e.state("measuring-asked")
	for _, line := range []string{"44.87", "44.89"} {
		send(e.T, caliper, line+"mm")
		e.await(line)
	}
	e.await("bore 3 of 3")
	e.state("measuring-kept")
	send(e.T, caliper, "45.97mm")
	e.await("45.97")
	e.state("measuring-doubtful")
	e.press("[name=do][value=undo]")
	do(e.T, e.ctx, chromedp.WaitReady(chromedp.CSS("li.undone")))
	for _, line := range []string{"44.88", "22.04", "14.94", "14.95"} {
		send(e.T, caliper, line+"mm")
		e.await(line)
	}
	e.press("#jump-length")
	e.await("Type the length")
	e.typed("line", "1720mm\r")
	e.await("1720mm")
	e.press("#jump-strip")
	e.await("strip 1")
	for n, line := range []string{"0.40", "0.39", "0.40"} {
		send(e.T, caliper, line+"mm")
		e.await(fmt.Sprintf("strip %d of 5", n+2))
	}
	do(e.T, e.ctx, chromedp.WaitReady(chromedp.CSS(".verdict")))
	e.state("measuring-verdict")
	e.forReadme("bench-measuring", 900)
	e.press("[name=do][value=finish]")
	do(e.T, e.ctx, chromedp.WaitReady(chromedp.CSS("[data-mode=none]")))
	e.state("measuring-finished")
}

func picturesOfTiming(e *easel, sensor *simulate.Link) {
	e.at("/clocks/1/timing")
	e.state("timing")
	e.forReadme("bench-timing", 900)
	e.at("/clocks/2/timing")
	e.state("timing-none")
	e.press("[name=port][value='" + sensor.Name + "']")
	e.press("main form button")
	e.await("Waiting for the sensor")
	e.state("timing-search")
	cfg := simulate.EvenClock(5)
	cfg.BeatsPerHour, cfg.Span, cfg.Jitter, cfg.Offset = 18000, 600, 80e-6, simulate.Degrees(0.4)
	clock, err := simulate.NewClock(cfg)
	if err != nil {
		e.Fatal(err)
	}
	still, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		began := time.Now()
		for at, line := range clock.Lines(0, cfg.Span) {
			select {
			case <-still:
				return
			case <-time.After(time.Duration(at) - time.Since(began)):
			}
			if _, err := sensor.Instrument.Write(line); err != nil {
				return
			}
		}
	}()
	e.await("beats are in the book")
	e.state("timing-few")
	do(e.T, e.ctx, chromedp.WaitReady(chromedp.CSS(".closing")))
	e.state("timing-closing")
	e.await("out of beat")
	e.state("timing-out-of-beat")
	close(still)
	<-stopped
	e.await("Nothing heard")
	e.state("timing-silent")
	e.press("main form button")
	do(e.T, e.ctx, chromedp.WaitReady(chromedp.CSS("[data-mode=none]")))
	e.state("timing-finished")
}

func picturesOfInstruments(e *easel, heard *simulate.Link) {
	e.at("/instruments")
	e.state("instruments")
	e.press("[name=port][value='" + heard.Name + "']")
	e.press("main form button")
	e.await("Capture what arrives")
	e.state("instruments-listening")
	for n := range 12 {
		send(e.T, heard, "  12.3"+strconv.Itoa(40+n)+" mm")
	}
	e.await("Lines to keep")
	e.press("[name=do][value=capture]")
	e.await("Captured into")
	send(e.T, heard, "  12.360 mm")
	e.await("pieces")
	e.state("instruments-found")
}

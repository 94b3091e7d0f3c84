//go:build browser && unix

package main

import (
	"context"
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/heapprofiler"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
)

// uses is what a tab holds once all that can be collected has been: bytes of its scripts'
// heap, nodes and listeners.
func uses(t *testing.T, ctx context.Context) map[string]float64 {
	t.Helper()
	if _, err := chromedp.Call(ctx, performance.Enable, performance.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	if _, err := chromedp.Call(ctx, heapprofiler.CollectGarbage, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
	got, err := chromedp.Call(ctx, performance.GetMetrics, cdp.Empty{})
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]float64{}
	for _, m := range got.Metrics {
		all[m.Name] = m.Value
	}
	return all
}

// dayOfEvents gives the page's own script the events of a day at a clock that beats seconds: each
// beat changes a part, by its numbers. What the day brings goes through the listeners of
// the page's stream; only the connection is left out.
const dayOfEvents = `(async (first, last) => {
  const parts = [...document.querySelectorAll("[data-part]")], was = parts.map(p => p.innerHTML);
  const stream = document.querySelector("[data-stream]").events;
  for (let n = first; n < last; n++) {
    const i = n %% parts.length, data = was[i].replace(/>([^<]*)\d([^<]*)</, ">$1" + n + "$2<") + "<!-- " + n + " -->";
    stream.dispatchEvent(new MessageEvent(parts[i].dataset.part, {data}));
    if (n %% 10 === 0) stream.dispatchEvent(new MessageEvent("say", {data: "heard " + n}));
    if (n %% 1000 === 0) await new Promise(r => setTimeout(r)); // as a browser draws between
  }
  return parts.length;
})(%d, %d)`

// TestTabStaysSmallInBrowser leaves a page open on a session of timing for a day. What its
// tab holds after the first tenth of it, it holds at the end.
func TestTabStaysSmallInBrowser(t *testing.T) {
	b := newBystander(t)
	page, shut := b.tab(t, "/clocks/1/timing")
	defer shut()
	do(t, page, click(fmt.Sprintf("input[name=port][value=%q]", b.at[b.sensor])), click("form[action$=timing] button"))
	await(t, page, reads("[data-part=heard]", "Waiting for the sensor to speak."))
	stop := b.play(t)
	await(t, page, `!!document.querySelector(".closing rect")`)
	stop()
	const beats = 86400
	if parts := evaluate[int](t, page, fmt.Sprintf(dayOfEvents, 0, beats/10)); parts < 5 {
		t.Fatalf("the page has %d parts", parts)
	}
	early := uses(t, page)
	evaluate[int](t, page, fmt.Sprintf(dayOfEvents, beats/10, beats))
	late := uses(t, page)
	for name, room := range map[string]float64{"JSHeapUsedSize": 1 << 20, "Nodes": 200, "JSEventListeners": 5} {
		t.Logf("%s: %.0f, then %.0f", name, early[name], late[name])
		if early[name] == 0 || late[name] > early[name]+room {
			t.Errorf("%s grew from %.0f to %.0f", name, early[name], late[name])
		}
	}
}

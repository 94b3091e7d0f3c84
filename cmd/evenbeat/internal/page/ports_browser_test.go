//go:build browser

package page

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"evenbeat/sessions"
)

// While the list of ports is kept fresh, what a person has chosen stays chosen, and where they
// are on the page stays too. A port that was chosen and pulled out isn't silently left out.
func TestFreshPortsLeaveTheHandAlone(t *testing.T) {
	b := serve(t, func(l *limits) { l.ports = time.Millisecond })
	b.add(t, sessions.Clock{Name: "Hall"})
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	ctx, stop := chromedp.NewContext(ctx)
	defer stop()
	for _, path := range []string{measuringOne, timingOne, instrumentsPath} {
		const caliper, sensor = "/dev/ttyUSB0", "/dev/ttyUSB1"
		b.ports.add(caliper)
		run := func(steps ...chromedp.Action[chromedp.Void]) {
			t.Helper()
			if err := chromedp.Do(ctx, steps...); err != nil {
				t.Fatal(err)
			}
		}
		await := func(condition string) {
			t.Helper()
			if _, err := chromedp.Run(ctx, chromedp.Poll[bool](condition)); err != nil {
				t.Fatalf("%s: %s: %v", path, condition, err)
			}
		}
		run(chromedp.Navigate(b.url+path), chromedp.Click(chromedp.CSS(`[value="`+caliper+`"]`)))
		const held = ` && document.activeElement.value === "` + caliper + `" && document.activeElement.checked`
		b.ports.add(sensor)
		await(`!!document.getElementById("port-` + sensor + `")` + held)
		b.ports.pull(sensor)
		await(`!document.getElementById("port-` + sensor + `")` + held)
		b.ports.pull(caliper)
		await(`document.querySelector("[data-part=ports]").textContent.includes("No serial port")` + held)
		b.ports.add(caliper)
		await(`!document.querySelector("[data-part=ports]").textContent.includes("No serial port")` + held)
		b.ports.pull(caliper)
	}
}

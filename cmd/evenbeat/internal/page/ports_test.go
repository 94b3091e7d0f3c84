package page

import (
	"bufio"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"evenbeat/sessions"
)

// An instrument that is plugged in while a page is open appears in its list of ports, and one
// that is pulled out goes away.
func TestPortsAreListedAsTheyCome(t *testing.T) {
	t.Parallel()
	b := serve(t, func(l *limits) { l.ports = time.Millisecond })
	b.add(t, sessions.Clock{Name: "Hall"})
	for path, input := range map[string]string{measuringOne: "checkbox", timingOne: "radio", instrumentsPath: "radio"} {
		t.Run(path, func(t *testing.T) {
			if _, text := b.get(t, path); !strings.Contains(text, `data-part="ports"`) || !strings.Contains(text, `data-stream="`+path+`/events"`) || !strings.Contains(text, "<button>") {
				t.Errorf("the page has no list that is kept fresh: %s", text)
			}
			answer := b.open(t, path+"/events")
			defer answer.Body.Close()
			events := bufio.NewReader(answer.Body)
			const name = "/dev/ttyUSB7"
			for _, step := range []struct {
				do   func()
				want string
			}{
				{func() {}, "No serial port"},
				{func() { b.ports.add(name) }, `type="` + input + `" name="port" value="` + name + `"`},
				{func() { b.ports.pull(name) }, "No serial port"},
			} {
				step.do()
				for at, text := "", ""; !strings.Contains(text, step.want); {
					if at, text = event(t, events); at != "ports" {
						text = ""
					}
				}
			}
		})
	}
	if status, text, _ := b.post(t, instrumentsPath+"/listen", url.Values{}); status != http.StatusUnprocessableEntity || !strings.Contains(text, "Choose a port.") {
		t.Errorf("status %d: %s", status, text)
	}
}

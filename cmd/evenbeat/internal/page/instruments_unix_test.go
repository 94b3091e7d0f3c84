//go:build unix

package page

import (
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"evenbeat/cmd/evenbeat/internal/live"
	"evenbeat/devices/capture"
)

// A port is listened at: what speaks there is recognised, its bytes are shown, and a
// capture of them lies beside the book. No answer names its folder. Only a port
// that is listed is opened, and it is free again in the end.
func TestInstruments(t *testing.T) {
	t.Parallel()
	b := serve(t, nil)
	instrument, name := b.plug(t)
	if status, text := b.get(t, instrumentsPath); status != http.StatusOK || !strings.Contains(text, name) || !strings.Contains(text, "no USB identity") {
		t.Errorf("status %d: %s", status, text)
	}
	listen := instrumentsPath + "/listen"
	for _, other := range []string{"/dev/null", "auto", "", b.Settings.Book} {
		if status, text, _ := b.post(t, listen, url.Values{"port": {other}}); status != http.StatusUnprocessableEntity || !strings.Contains(text, "lists no port") {
			t.Errorf("port %q: status %d: %s", other, status, text)
		}
	}
	if status, text, _ := b.post(t, listen, url.Values{"port": {name}}); status != http.StatusOK || !strings.Contains(text, "Capture what arrives") {
		t.Fatalf("status %d: %s", status, text)
	}
	if status, text, _ := b.post(t, listen, url.Values{"port": {name}}); status != http.StatusUnprocessableEntity || !strings.Contains(text, "listens at "+name+" already") {
		t.Errorf("status %d of listening twice: %s", status, text)
	}
	do := func(what string) string {
		status, text, _ := b.post(t, instrumentsPath+"/do", url.Values{"port": {name}, "do": {what}})
		if status != http.StatusOK || strings.Contains(text, filepath.Dir(b.Settings.Book)) {
			t.Errorf("%s: status %d: %s", what, status, text)
		}
		return text
	}
	if text := do("capture"); !strings.Contains(text, "beside the book") {
		t.Errorf("no capture is told of: %s", text)
	}
	events := b.look(t, instrumentsPath+"/events", 0)
	const line = "  12.345 mm\r\n"
	for range 4 {
		if _, err := instrument.WriteString(line); err != nil {
			t.Fatal(err)
		}
	}
	text := ""
	for !strings.Contains(text, "recognised at "+name) {
		_, text = events.await(t, "at "+name, "The latest of 52 bytes")
	}
	if !strings.Contains(text, "20 20 31 32 2E 33 34 35    12.345") || !strings.Contains(text, "20 6D 6D 0D 0A") {
		t.Errorf("the bytes are %s", text)
	}
	for _, want := range []string{"format: text-length", "baud: 9600", "noise would look like this once in"} {
		if !strings.Contains(text, want) {
			t.Errorf("it lacks %q: %s", want, text)
		}
	}
	do("captured")
	files, err := filepath.Glob(filepath.Join(live.RawFolder(b.Settings.Book), "*.capture"))
	if err != nil || len(files) != 1 || !strings.Contains(text, filepath.Base(files[0])) {
		t.Fatalf("captures %v, %v", files, err)
	}
	f, err := os.Open(files[0])
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var all []byte
	for r := capture.NewReader(f); ; {
		c, err := r.Next()
		if err != nil {
			break
		}
		all = append(all, c.Bytes...)
	}
	if string(all) != strings.Repeat(line, 4) {
		t.Errorf("the capture holds %q", all)
	}
	if text := do("stop"); strings.Contains(text, "Stop listening") {
		t.Errorf("it still listens: %s", text)
	}
	if status, text, _ := b.post(t, listen, url.Values{"port": {name}, "profile": {"caliper"}}); status != http.StatusOK || !strings.Contains(text, "profile caliper says") {
		t.Errorf("the port is not free: status %d: %s", status, text)
	}
}

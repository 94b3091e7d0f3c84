//go:build unix

package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// served is a bench page that the program serves.
type served struct {
	link *url.URL
	dir  string
	cmd  *exec.Cmd
	said *bytes.Buffer // once it has ended
	over chan struct{}
}

// What would be run, were it taken for a part of the page. The second is the name of a file
// too.
const (
	hostile      = `<script>alert(1)</script>`
	hostileImage = `<img src=x onerror=alert(1)>`
)

// evenbeat runs the program with a book in dir.
func evenbeat(t *testing.T, dir string, args ...string) *exec.Cmd {
	t.Helper()
	ctx, stop := context.WithTimeout(context.Background(), 2*patience) // for a whole day at the bench
	t.Cleanup(stop)
	cmd := exec.CommandContext(ctx, "evenbeat", args...)
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + dir, "EVENBEAT_BOOK=" + filepath.Join(dir, "book.db"), "NO_COLOR=1", "TZ=UTC"}
	return cmd
}

// serveBook starts the page of a clock whose every text would be a script, with a port and
// a profile that would be too.
func serveBook(t *testing.T, addr string) *served {
	t.Helper()
	dir := t.TempDir()
	photo := filepath.Join(dir, hostileImage+".png")
	var dot strings.Builder
	if err := png.Encode(&dot, image.NewGray(image.Rect(0, 0, 1, 1))); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		photo: dot.String(),
		filepath.Join(dir, ".config", "evenbeat", "config.yaml"): fmt.Sprintf("profiles:\n  - {name: own, title: %q, format: text-length, kind: caliper, baud: 9600, bits: 8, parity: none, stop: 1, unit: mm, resolution_mm: 0.01, limit_outside_mm: 0.02}\n", hostile),
	} {
		if err := errors.Join(os.MkdirAll(filepath.Dir(name), 0o700), os.WriteFile(name, []byte(text), 0o600)); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range [][]string{
		{"clock", "add", hostile},
		{"measure", "--port", "-", "--plan", "pivot", "--part", hostile},
		{"note", "--kind", "remark", "--text", hostile},
		{"job", "--customer", hostile, "--complaint", hostile, "--job", hostile, "--serial", hostile, "--mark", hostile, "--photo", photo},
	} {
		cmd := evenbeat(t, dir, args...)
		cmd.Stdin = strings.NewReader("2.500mm\n")
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", args, err, out)
		}
	}
	return serveIn(t, dir, addr, "/dev/"+hostileImage)
}

// serveIn starts the page of the book in dir, whose settings name ports.
func serveIn(t *testing.T, dir, addr string, ports ...string) *served {
	t.Helper()
	return serveBy(t, dir, ports, "--addr", addr)
}

// serveBy starts the page with options.
func serveBy(t *testing.T, dir string, ports []string, options ...string) *served {
	t.Helper()
	s := &served{dir: dir, over: make(chan struct{}), said: &bytes.Buffer{}}
	s.cmd = evenbeat(t, s.dir, append([]string{"bench"}, options...)...)
	s.cmd.Env = append(s.cmd.Env, "EVENBEAT_PORTS="+strings.Join(ports, ","))
	says, err := s.cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	line, err := bufio.NewReaderSize(says, 1).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	if s.link, err = url.Parse(regexp.MustCompile(`http://\S+`).FindString(line)); err != nil || s.link.Host == "" {
		t.Fatalf("%q names no link: %v", line, err)
	}
	go func() {
		defer close(s.over)
		if _, err := io.Copy(s.said, says); err != nil {
			t.Error(err)
		}
		if err := s.cmd.Wait(); err != nil {
			t.Errorf("bench ends with %v, want status 0", err)
		}
	}()
	t.Cleanup(func() { s.end(t) })
	return s
}

// end ends it as Ctrl-C does.
func (s *served) end(t *testing.T) {
	t.Helper()
	if err := s.cmd.Process.Signal(os.Interrupt); err != nil && !errors.Is(err, os.ErrProcessDone) {
		t.Error(err)
	}
	<-s.over
}

// ask sends one request by a connection of its own, which follows no redirect.
func (s *served) ask(t *testing.T, method, target string, change func(*http.Request)) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), method, "http://"+s.host()+target, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Close = true
	if change != nil {
		change(req)
	}
	answer, err := http.DefaultTransport.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(answer.Body)
	if err = errors.Join(err, answer.Body.Close()); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store"} {
		if got := answer.Header.Get(name); got != want {
			t.Errorf("%s %s: %s %q, want %q", method, target, name, got, want)
		}
	}
	policy := answer.Header.Get("Content-Security-Policy")
	for _, want := range []string{"default-src 'none'", "frame-ancestors 'none'", "base-uri 'self'", "form-action 'self'"} {
		if !strings.Contains(policy, want) {
			t.Errorf("%s %s: policy %q lacks %q", method, target, policy, want)
		}
	}
	if strings.Contains(policy, "unsafe") {
		t.Errorf("%s %s: policy %q", method, target, policy)
	}
	if strings.Contains(string(body), s.dir) {
		t.Errorf("%s %s tells where the book lies", method, target)
	}
	return answer, string(body)
}

// host is what to connect to: loopback, if the page listens there too.
func (s *served) host() string {
	return net.JoinHostPort("127.0.0.1", s.link.Port())
}

func (s *served) book(t *testing.T) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(s.dir, "book.db"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

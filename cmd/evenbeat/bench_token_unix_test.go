//go:build unix

package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The token that a file keeps is that of the link, at this start and the next.
func TestBenchKeepsItsToken(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file := filepath.Join(dir, "token")
	before := ""
	for range 2 {
		s := serveBy(t, dir, nil, "--addr", "0.0.0.0:0", "--token-file", file)
		token := s.link.Query().Get("token")
		if len(token) < 26 || before != "" && token != before {
			t.Fatalf("the link is %s, with %q before", s.link, before)
		}
		if answer, _ := s.ask(t, "GET", "/?token="+token, nil); answer.StatusCode != 303 {
			t.Errorf("status %d with the token", answer.StatusCode)
		}
		s.end(t)
		before = token
	}
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	if info.Mode().Perm() != 0o600 {
		t.Errorf("the file's mode is %v", info.Mode())
	}
}

// A file that can't keep a token is refused, and stays as it was.
func TestBenchTokenFileRefused(t *testing.T) {
	t.Parallel()
	whole := strings.Repeat("A", 26) + "\n"
	for _, c := range []struct {
		name, text string
		mode       os.FileMode
		says       string
	}{
		{"for all to read", whole, 0o644, "chmod 600"},
		{"for all to write", "", 0o622, "chmod 600"},
		{"short", "secret\n", 0o600, "26 to 200"},
		{"not for a link", strings.Repeat("A&", 20), 0o600, "26 to 200"},
		{"two lines", whole + whole, 0o600, "26 to 200"},
		{"long", strings.Repeat("A", 2000), 0o600, "26 to 200"},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "token")
			if err := os.WriteFile(file, []byte(c.text), 0o600); err != nil {
				t.Fatal(err)
			}
			if err := os.Chmod(file, c.mode); err != nil {
				t.Fatal(err)
			}
			refusedTokenFile(t, file, c.says)
			if got, err := os.ReadFile(file); err != nil || string(got) != c.text {
				t.Errorf("the file holds %q, %v", got, err)
			}
		})
	}
	refusedTokenFile(t, t.TempDir(), "directory")
	refusedTokenFile(t, "/dev/null", "no plain file")
	refusedTokenFile(t, filepath.Join(t.TempDir(), "none", "token"), "no such file")
}

func refusedTokenFile(t *testing.T, file, says string) {
	t.Helper()
	var out, errs bytes.Buffer
	status := run(t.Context(), []string{"bench", "--addr", "127.0.0.1:0", "--token-file", file}, []string{"HOME=" + t.TempDir()}, strings.NewReader(""), &out, &errs)
	if status != 2 || !strings.Contains(errs.String(), says) || !strings.Contains(errs.String(), file) {
		t.Errorf("%s: status %d, %s", file, status, &errs)
	}
}

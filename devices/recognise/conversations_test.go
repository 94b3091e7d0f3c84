package recognise_test

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"evenbeat/devices/capture"
	"evenbeat/devices/formats"
	"evenbeat/devices/recognise"
)

// recognised returns the format that is found in a capture, which is looked at after
// each chunk; "" for none.
func recognised(t *testing.T, file string) string {
	t.Helper()
	in, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	var r recognise.Recogniser
	for c := capture.NewReader(in); ; {
		chunk, err := c.Next()
		if errors.Is(err, io.EOF) {
			return ""
		}
		if err != nil {
			t.Fatal(err)
		}
		r.Add(chunk)
		if f := r.Finding(); f.State == recognise.Found {
			return f.Candidates[0].Format
		}
	}
}

// A format that can be recognised is so in one of its conversations at least. Those
// that show what is odd may be too short for it.
func TestConversationsAreRecognised(t *testing.T) {
	for _, f := range formats.All() {
		if f.Recognition.Frames == 0 {
			continue
		}
		files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "conversations", f.Name, "*.txt"))
		if err != nil {
			t.Fatal(err)
		}
		var found []string
		for _, file := range files {
			found = append(found, recognised(t, file))
		}
		if !slices.Contains(found, f.Name) {
			t.Errorf("%s is recognised in none of %q", f.Name, files)
		}
	}
}

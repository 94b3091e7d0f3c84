package plots

import (
	"bytes"
	"errors"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestWriteFiles(t *testing.T) {
	dir := t.TempDir()
	fig := mustDraw(t, "barrel", findingsExample())
	for ext, head := range map[string]string{"svg": "<?xml", "png": "\x89PNG", "pdf": "%PDF-", "PNG": "\x89PNG"} {
		path := filepath.Join(dir, "barrel."+ext)
		if err := fig.Write(path); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(path)
		if err != nil || !bytes.HasPrefix(got, []byte(head)) {
			t.Errorf("%s opens with %.8q, error %v", path, got, err)
		}
	}
	if err := fig.Write(filepath.Join(dir, "barrel.bmp")); err == nil || !strings.Contains(err.Error(), "end the name in .svg, .png or .pdf") {
		t.Errorf("error %v, want the formats named", err)
	}
	if err := fig.Write(filepath.Join(dir, "none", "barrel.svg")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("error %v, want that the folder isn't there", err)
	}
	if err := (Figure{}).Write(filepath.Join(dir, "x.svg")); err == nil {
		t.Error("a figure that wasn't drawn was written")
	}
	names, err := os.ReadDir(dir)
	if err != nil || len(names) != 4 {
		t.Errorf("%v in the folder (error %v), want four figures and nothing half-written", names, err)
	}
}

func TestPNGDensity(t *testing.T) {
	data, err := mustDraw(t, "turns", findingsExample()).PNG(300)
	if err != nil {
		t.Fatal(err)
	}
	pic, err := png.DecodeConfig(bytes.NewReader(data))
	// 17 cm at 300 pixels an inch is 2007.9 pixels.
	if err != nil || pic.Width != 2008 {
		t.Errorf("%d pixels wide, error %v, want 2008", pic.Width, err)
	}
	// 300/0.0254 = 11811.02 pixels a metre, in a chunk whose CRC the decoder checked.
	if !bytes.Contains(data, []byte("pHYs\x00\x00\x2e\x23\x00\x00\x2e\x23\x01")) {
		t.Error("no mark of 11811 pixels a metre")
	}
	if _, err := mustDraw(t, "turns", findingsExample()).PNG(0); err == nil {
		t.Error("0 pixels an inch was taken")
	}
}

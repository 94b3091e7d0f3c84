package plots

import (
	"bytes"
	"image/png"
	"strings"
	"testing"
)

func TestEncode(t *testing.T) {
	fig := mustDraw(t, "barrel", Findings{}) // a low one, which is soon drawn
	for file, head := range map[string]string{"barrel.svg": "<?xml", "barrel.png": "\x89PNG", "barrel.pdf": "%PDF-", "barrel.PNG": "\x89PNG"} {
		got, err := fig.Encode(file)
		if err != nil || !bytes.HasPrefix(got, []byte(head)) {
			t.Errorf("%s opens with %.8q, error %v", file, got, err)
		}
	}
	if _, err := fig.Encode("barrel.bmp"); err == nil || !strings.Contains(err.Error(), "end the name in .svg, .png or .pdf") {
		t.Errorf("error %v, want the formats named", err)
	}
	if _, err := (Figure{}).Encode("x.svg"); err == nil {
		t.Error("a figure that wasn't drawn was encoded")
	}
}

func TestPNGDensity(t *testing.T) {
	data, err := mustDraw(t, "turns", Findings{}).PNG(300)
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
	if _, err := mustDraw(t, "turns", Findings{}).PNG(0); err == nil {
		t.Error("0 pixels an inch was taken")
	}
}

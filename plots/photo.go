package plots

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"html/template"
	"image"
	"image/jpeg"
	_ "image/png" // photographs are JPEG or PNG

	"golang.org/x/image/draw"
)

// Photo is a photograph for the sheet: its file as it was kept, nil where it is missing.
type Photo struct {
	Name string
	Data []byte
}

// sheetPhoto is one as the template sets it.
type sheetPhoto struct {
	Name string
	Src  template.URL // "" where it can't be shown
}

// mostAcross bounds the longer side of a photograph on the sheet, in pixels: enough for
// 150 mm at 170 to the inch.
const mostAcross = 1000

func sheetPhotos(all []Photo) (out []sheetPhoto) {
	for _, p := range all {
		s := sheetPhoto{Name: printable(p.Name)}
		if small, err := shrunk(p.Data); err == nil {
			s.Src = template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(small))
		}
		out = append(out, s)
	}
	return out
}

// shrunk returns a photograph as a JPEG of bounded size, upright. Drawn anew, it no longer
// tells where it was taken.
func shrunk(data []byte) ([]byte, error) {
	src, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	w, h := src.Bounds().Dx(), src.Bounds().Dy()
	scale := min(1, mostAcross/float64(max(w, h, 1)))
	small := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(w)*scale)), max(1, int(float64(h)*scale))))
	draw.Draw(small, small.Bounds(), image.White, image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(small, small.Bounds(), src, src.Bounds(), draw.Over, nil)
	var b bytes.Buffer
	err = jpeg.Encode(&b, turned(small, orientation(data)), &jpeg.Options{Quality: 80})
	return b.Bytes(), err
}

// orientation returns how a camera was held, 1 to 8, from the Exif part of a JPEG
// (CIPA DC-008-2019, 4.6.5, tag 274); 1 where nothing is told.
func orientation(data []byte) int {
	at := bytes.Index(data[:min(len(data), 1<<16)], []byte("Exif\x00\x00"))
	if at < 0 || len(data) < at+14 {
		return 1
	}
	t := data[at+6:]
	var order binary.ByteOrder = binary.LittleEndian
	if t[0] == 'M' {
		order = binary.BigEndian
	}
	first := int64(order.Uint32(t[4:]))
	if first+2 > int64(len(t)) {
		return 1
	}
	for i := range int64(order.Uint16(t[first:])) {
		entry := first + 2 + 12*i
		if entry+12 > int64(len(t)) {
			return 1
		}
		if order.Uint16(t[entry:]) == 274 {
			return int(order.Uint16(t[entry+8:]))
		}
	}
	return 1
}

// turned turns a picture as its orientation asks for.
func turned(src *image.RGBA, orientation int) *image.RGBA {
	if orientation < 2 || orientation > 8 {
		return src
	}
	w, h := src.Bounds().Dx(), src.Bounds().Dy()
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	if orientation >= 5 {
		out = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range h {
		for x := range w {
			to := [9]image.Point{2: {w - 1 - x, y}, 3: {w - 1 - x, h - 1 - y}, 4: {x, h - 1 - y},
				5: {y, x}, 6: {h - 1 - y, x}, 7: {h - 1 - y, w - 1 - x}, 8: {y, w - 1 - x}}[orientation]
			out.SetRGBA(to.X, to.Y, src.RGBAAt(x, y))
		}
	}
	return out
}

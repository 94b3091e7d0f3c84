package plots

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"html"
	"path/filepath"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// printDPI is the resolution of a PNG, in pixels per inch: enough for a good print.
const printDPI = 300

// Encode returns the figure in the format of a file's ending: .svg, .png or .pdf.
func (f Figure) Encode(file string) ([]byte, error) {
	switch ext := strings.ToLower(filepath.Ext(file)); ext {
	case ".svg":
		return f.SVG()
	case ".png":
		return f.PNG(printDPI)
	case ".pdf":
		return f.PDF()
	default:
		return nil, fmt.Errorf("figure file %s: %q is no format for a figure: end the name in .svg, .png or .pdf", file, ext)
	}
}

// SVG returns the figure as an SVG document. The same figure gives the same bytes.
func (f Figure) SVG() ([]byte, error) {
	body, err := f.Inline()
	if err != nil {
		return nil, err
	}
	return append([]byte(`<?xml version="1.0" encoding="UTF-8"?>`+"\n"), body...), nil
}

// Inline returns the figure as an SVG element for a page. It fills the width it is given,
// and has title and description for those who can't see it. What has the paper's colour has
// a class or style by which a page can make it white for print. Its own class, wide or
// narrow, is that of the layout.
func (f Figure) Inline() ([]byte, error) {
	if err := f.drawable(); err != nil {
		return nil, err
	}
	width, height := f.size()
	canvas := vgsvg.New(width, height)
	m := &measuring{Canvas: canvas}
	f.paint(m)
	var raw bytes.Buffer
	if _, err := canvas.WriteTo(&raw); err != nil {
		return nil, fmt.Errorf("figure %s: %w", f.Kind, err)
	}
	// The library's own head has no title and declares XML. All that follows begins with
	// the group that turns the page upside down.
	_, body, ok := strings.Cut(raw.String(), "<g ")
	if !ok {
		return nil, fmt.Errorf("figure %s: the drawing library wrote no group", f.Kind)
	}
	var out bytes.Buffer
	w, h := width.Points(), height.Points()
	class := "wide"
	if f.layout.narrow {
		class = "narrow"
	}
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" class="%s" width="%.5gpt" height="%.5gpt" viewBox="0 0 %.5g %.5g" `+
		`role="img" aria-labelledby="figure-%[6]s-title figure-%[6]s-desc">`+"\n", class, w, h, w, h, f.id)
	fmt.Fprintf(&out, "<title id=\"figure-%s-title\">%s</title>\n", f.id, html.EscapeString(printable(f.Title)))
	fmt.Fprintf(&out, "<desc id=\"figure-%s-desc\">%s</desc>\n", f.id, html.EscapeString(printable(f.Desc)))
	fmt.Fprintf(&out, `<rect class="paper" width="100%%" height="100%%" fill="%s"/>`+"\n", hex(paper))
	out.WriteString(m.fit("<g " + body))
	return out.Bytes(), nil
}

// measuring notes the intended width of each piece of text, since the reader's own
// sans-serif may be wider than the one that the figure was laid out with.
type measuring struct {
	vg.Canvas
	widths []vg.Length
}

// FillString draws words and notes their width.
func (m *measuring) FillString(f font.Face, p vg.Point, words string) {
	words = printable(words)
	m.widths = append(m.widths, f.Width(words))
	m.Canvas.FillString(f, p, words)
}

// fit writes the intended width into each text element, and adds typefaces to fall back on.
// The elements are in the order in which they were drawn.
func (m *measuring) fit(svg string) string {
	parts := strings.Split(svg, "<text ")
	var b strings.Builder
	b.WriteString(parts[0])
	for i, p := range parts[1:] {
		b.WriteString("<text ")
		if i < len(m.widths) && m.widths[i] > 0 {
			fmt.Fprintf(&b, `textLength="%.5g" lengthAdjust="spacingAndGlyphs" `, m.widths[i].Points())
		}
		b.WriteString(strings.Replace(p, "font-family:Liberation Sans;",
			"font-family:'Liberation Sans',Arimo,Arial,Helvetica,sans-serif;", 1))
	}
	return b.String()
}

// PNG returns the figure as a PNG of so many pixels per inch, which it is marked with.
func (f Figure) PNG(dpi int) ([]byte, error) {
	if dpi < 30 || dpi > 1200 {
		return nil, fmt.Errorf("figure %s: %d pixels an inch: take 30 to 1200", f.Kind, dpi)
	}
	if err := f.drawable(); err != nil {
		return nil, err
	}
	width, height := f.size()
	canvas := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(paper))
	f.paint(canvas)
	var b bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: canvas}).WriteTo(&b); err != nil {
		return nil, fmt.Errorf("figure %s: %w", f.Kind, err)
	}
	return withDensity(b.Bytes(), dpi), nil
}

// withDensity puts a pHYs chunk behind the header of a PNG, so that it prints at its true
// size: length, type, pixels per metre across and down, unit metre, CRC (PNG specification,
// third edition, 11.3.4.3). The header ends at byte 33.
func withDensity(png []byte, dpi int) []byte {
	const header = 33
	perMetre := uint32(float64(dpi)/0.0254 + 0.5)
	chunk := binary.BigEndian.AppendUint32(nil, 9)
	chunk = append(chunk, "pHYs"...)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	out := append([]byte(nil), png[:header]...)
	out = append(out, chunk...)
	return append(out, png[header:]...)
}

// PDF returns the figure as a PDF of one page, with its words drawn as shapes. The library
// writes the time into it, so no two are the same bytes.
func (f Figure) PDF() ([]byte, error) {
	if err := f.drawable(); err != nil {
		return nil, err
	}
	width, height := f.size()
	canvas := vgpdf.New(width, height)
	f.paint(outlines{canvas})
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		return nil, fmt.Errorf("figure %s: %w", f.Kind, err)
	}
	return b.Bytes(), nil
}

// drawable returns an error for a figure that Draw didn't make.
func (f Figure) drawable() error {
	if f.draw == nil {
		return fmt.Errorf("figure %q was not drawn: make it with plots.Draw", f.Kind)
	}
	return nil
}

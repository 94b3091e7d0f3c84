package plots

import (
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// outlines is a canvas that draws words as filled shapes. The PDF canvas beneath writes
// text in an eight-bit encoding that turns ± and µ into other letters, and has no bold.
// Shapes look right in every reader, but can't be searched.
type outlines struct{ vg.Canvas }

// FillString fills the outlines of the letters, with their origin at p.
func (o outlines) FillString(f font.Face, p vg.Point, words string) {
	var buf sfnt.Buffer
	em := fixed.Int26_6(f.Face.UnitsPerEm())
	unit := f.Font.Size / vg.Length(em)
	var path vg.Path
	var before sfnt.GlyphIndex
	for i, r := range words {
		glyph, err := f.Face.GlyphIndex(&buf, r)
		if err != nil {
			continue
		}
		if kern, err := f.Face.Kern(&buf, before, glyph, em, 0); i > 0 && err == nil {
			p.X += vg.Length(kern) * unit
		}
		segments, err := f.Face.LoadGlyph(&buf, glyph, em, nil)
		if err == nil {
			path = appendGlyph(path, segments, p, unit)
		}
		if advance, err := f.Face.GlyphAdvance(&buf, glyph, em, 0); err == nil {
			p.X += vg.Length(advance) * unit
		}
		before = glyph
	}
	if len(path) > 0 {
		o.Fill(path)
	}
}

// appendGlyph adds one letter's contours. A font's vertical axis points down.
func appendGlyph(path vg.Path, segments sfnt.Segments, at vg.Point, unit vg.Length) vg.Path {
	place := func(q fixed.Point26_6) vg.Point {
		return vg.Point{X: at.X + vg.Length(q.X)*unit, Y: at.Y - vg.Length(q.Y)*unit}
	}
	open := false
	for _, s := range segments {
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			if open {
				path.Close()
			}
			path.Move(place(s.Args[0]))
			open = true
		case sfnt.SegmentOpLineTo:
			path.Line(place(s.Args[0]))
		case sfnt.SegmentOpQuadTo:
			path.QuadTo(place(s.Args[0]), place(s.Args[1]))
		case sfnt.SegmentOpCubeTo:
			path.CubeTo(place(s.Args[0]), place(s.Args[1]), place(s.Args[2]))
		}
	}
	if open {
		path.Close()
	}
	return path
}

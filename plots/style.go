// Package plots draws what analysis found: a file for each figure, and the job sheet. A
// figure's title gives the finding in words, and its axes have units. Nothing here
// computes a finding: results come in, drawings and pages go out.
//
// To add a figure, write one file beside the others and one line in the table of
// figure.go.
package plots

import (
	"fmt"
	"image/color"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// The colours of every figure: ink on a warm paper. Their lightness differs, so that a grey
// copy keeps all distinctions. What differs in colour differs in shape too.
var (
	paper = color.NRGBA{0xfd, 0xfb, 0xf6, 0xff}
	ink   = color.NRGBA{0x2a, 0x25, 0x20, 0xff} // words and values
	faded = color.NRGBA{0x6b, 0x62, 0x58, 0xff} // axes and notes
	rule  = color.NRGBA{0xdf, 0xd7, 0xc9, 0xff} // grid
	steel = color.NRGBA{0x23, 0x48, 0x57, 0xff} // first series, the spring
	brass = color.NRGBA{0xbd, 0x87, 0x2f, 0xff} // second series, the barrel
	rust  = color.NRGBA{0x9c, 0x3b, 0x24, 0xff} // what to look at
	wash  = color.NRGBA{0xed, 0xe8, 0xd3, 0xff} // bands in which all is well
	metal = color.NRGBA{0xe2, 0xd3, 0xae, 0xff} // cut brass
)

// shade is a colour with the one that stands for it on a dark screen.
type shade struct {
	name        string
	light, dark color.NRGBA
}

// palette lists all colours.
func palette() []shade {
	return []shade{
		{"paper", paper, color.NRGBA{0x1f, 0x22, 0x26, 0xff}},
		{"ink", ink, color.NRGBA{0xec, 0xe8, 0xe0, 0xff}},
		{"faded", faded, color.NRGBA{0xae, 0xb1, 0xb8, 0xff}},
		{"rule", rule, color.NRGBA{0x43, 0x47, 0x4e, 0xff}},
		{"steel", steel, color.NRGBA{0x93, 0xc4, 0xd8, 0xff}},
		{"brass", brass, color.NRGBA{0xd8, 0xa8, 0x55, 0xff}},
		{"rust", rust, color.NRGBA{0xff, 0xa2, 0x86, 0xff}},
		{"wash", wash, color.NRGBA{0x33, 0x38, 0x36, 0xff}},
		{"metal", metal, color.NRGBA{0x5c, 0x52, 0x3c, 0xff}},
	}
}

// hex writes a colour as a drawing holds it.
func hex(c color.NRGBA) string { return fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B) }

const margin = 12 // points around a figure

// layout is the room that a figure has, and the sizes of its letters, in points.
type layout struct {
	width             vg.Length
	title, note, word float64
	narrow            bool
}

// onPaper is the layout for a page: as wide as fits between the margins of A4 and of Letter.
var onPaper = layout{width: 17 * vg.Centimeter, title: 12, note: 8, word: 7.5}

// layout returns the layout for the room that was asked for. A CSS pixel is 3/4 of a point,
// so the smallest letters of a narrow layout are 12.7 pixels high.
func (f Findings) layout() layout {
	asked := vg.Length(f.Width) * 3 / 4
	if f.Width == 0 || asked >= onPaper.width {
		return onPaper
	}
	return layout{width: asked, title: 13.5, note: 10, word: 9.5, narrow: true}
}

// choose returns one of two, by the layout.
func (l layout) choose(wide, narrow vg.Length) vg.Length {
	if l.narrow {
		return narrow
	}
	return wide
}

// words is the style of what stands in a drawing.
func (l layout) words(c color.Color) text.Style { return letters(l.word, c) }

// inner is the width between the margins.
func (l layout) inner() vg.Length { return l.width - 2*margin }

// letters returns a text style of the figures' one typeface.
func letters(size float64, c color.Color) text.Style {
	return text.Style{
		Color:   c,
		Font:    font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Points(size)},
		XAlign:  text.XLeft,
		YAlign:  text.YBottom,
		Handler: typeface(),
	}
}

// typeface sets words in the figures' one typeface. It is read when something is first
// drawn, since most commands draw nothing.
var typeface = sync.OnceValue(func() text.Handler {
	face := func(ttf []byte, weight xfont.Weight) font.Face {
		face, err := opentype.Parse(ttf)
		if err != nil {
			panic(err) // it is part of the program
		}
		return font.Face{Font: font.Font{Typeface: "Liberation", Variant: "Sans", Weight: weight}, Face: face}
	}
	return text.Plain{Fonts: font.NewCache(font.Collection{
		face(liberationsansregular.TTF, xfont.WeightNormal), face(liberationsansbold.TTF, xfont.WeightBold)})}
})

func bold(s text.Style) text.Style {
	s.Font.Weight = xfont.WeightBold
	return s
}

func aligned(s text.Style, x text.XAlignment, y text.YAlignment) text.Style {
	s.XAlign, s.YAlign = x, y
	return s
}

func line(c color.Color, width float64, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: c, Width: vg.Points(width), Dashes: dashes}
}

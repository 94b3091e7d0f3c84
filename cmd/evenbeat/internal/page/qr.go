package page

import (
	"strings"

	"rsc.io/qr"
)

// quietModules is the white margin that a QR code needs on each side (ISO/IEC 18004,
// from memory).
const quietModules = 4

// Code returns a link as a QR code for a terminal that shows colours: lines of half
// blocks, black on white whatever the terminal's own colours are.
func Code(link string) (string, error) {
	c, err := qr.Encode(link, qr.M)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for y := -quietModules; y < c.Size+quietModules; y += 2 {
		b.WriteString("\x1b[38;2;0;0;0;48;2;255;255;255m")
		for x := -quietModules; x < c.Size+quietModules; x++ {
			upper, lower := c.Black(x, y), c.Black(x, y+1)
			switch {
			case upper && lower:
				b.WriteRune('█')
			case upper:
				b.WriteRune('▀')
			case lower:
				b.WriteRune('▄')
			default:
				b.WriteByte(' ')
			}
		}
		b.WriteString("\x1b[0m\n")
	}
	return b.String(), nil
}

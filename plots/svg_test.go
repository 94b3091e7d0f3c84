package plots

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// texts returns the words of all text elements of an SVG, in order.
func texts(t *testing.T, svg []byte) []string {
	t.Helper()
	var words []string
	for _, p := range placed(t, svg) {
		words = append(words, p.words)
	}
	return words
}

// words is a piece of text as an SVG places it, y from the top.
type words struct {
	words             string
	x, y, width, size float64
}

func placed(t *testing.T, svg []byte) []words {
	t.Helper()
	var all []words
	dec := xml.NewDecoder(bytes.NewReader(svg))
	height, inside := 0.0, false
	for {
		token, err := dec.Token()
		if errors.Is(err, io.EOF) {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "svg":
				height = number(t, e, "height")
			case "text":
				inside = true
				all = append(all, words{x: number(t, e, "x"), y: height + number(t, e, "y"), width: number(t, e, "textLength"), size: fontSize(t, e)})
			}
		case xml.EndElement:
			inside = inside && e.Name.Local != "text"
		case xml.CharData:
			if inside {
				all[len(all)-1].words += string(e)
			}
		}
	}
}

// number reads an attribute of an SVG element, in points.
func number(t *testing.T, e xml.StartElement, name string) float64 {
	t.Helper()
	for _, a := range e.Attr {
		if a.Name.Local == name {
			v, err := strconv.ParseFloat(strings.TrimSuffix(a.Value, "pt"), 64)
			if err != nil {
				t.Fatalf("%s %q of %s: %v", name, a.Value, e.Name.Local, err)
			}
			return v
		}
	}
	t.Fatalf("%s has no %s", e.Name.Local, name)
	return 0
}

func fontSize(t *testing.T, e xml.StartElement) float64 {
	t.Helper()
	for _, a := range e.Attr {
		if a.Name.Local != "style" {
			continue
		}
		if m := regexp.MustCompile(`font-size:([0-9.]+)px`).FindStringSubmatch(a.Value); m != nil {
			v, err := strconv.ParseFloat(m[1], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
	}
	t.Fatalf("%s has no font size", e.Name.Local)
	return 0
}

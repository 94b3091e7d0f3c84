package plots

import (
	"encoding/xml"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
)

type tick = plot.Tick

func ptOf(v float64) vg.Length { return vg.Points(v) }

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

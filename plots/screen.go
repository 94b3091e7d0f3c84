package plots

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// Screen returns the figure as an SVG document for the img of a page. It turns dark with
// the reader's system. A file that is kept is better as SVG gives it: few programs but
// browsers know colours by name.
func (f Figure) Screen() ([]byte, error) {
	svg, err := f.SVG()
	if err != nil {
		return nil, err
	}
	var names []string
	var dark strings.Builder
	for _, s := range palette() {
		names = append(names, hex(s.light), fmt.Sprintf("var(--%s,%s)", s.name, hex(s.light)))
		fmt.Fprintf(&dark, "--%s:%s;", s.name, hex(s.dark))
	}
	// Words can't be taken for the end of the description, since they are escaped.
	head, drawn, _ := bytes.Cut(svg, []byte("</desc>"))
	style := "</desc>\n<style>@media (prefers-color-scheme:dark){svg{" + dark.String() + "}}</style>"
	return slices.Concat(head, []byte(style), []byte(strings.NewReplacer(names...).Replace(string(drawn)))), nil
}

package main

import (
	"io"
	"strconv"

	"evenbeat/analysis"
	"evenbeat/analysis/spring"
	"evenbeat/analysis/uncertainty"
	"evenbeat/devices/quantity"
)

// readStock reads a list of strips: name,thickness,height,length,quantity.
func (a *app) readStock(name string) ([]spring.Stock, error) {
	var rows []row
	err := a.withInput(name, func(in io.Reader) (err error) {
		var c *csvRows
		if c, err = openCSV(in, mostRows, "thickness"); err == nil {
			rows, err = c.all()
		}
		if err != nil {
			return badCall("%s: %w", name, err)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	var out []spring.Stock
	for _, r := range rows {
		s, err := a.stockRow(r)
		if err != nil {
			return nil, badCall("%s: %w", name, err)
		}
		out = append(out, s)
	}
	if len(out) == 0 {
		return nil, badCall("%s: lists no strip", name)
	}
	return out, nil
}

func (a *app) stockRow(r row) (spring.Stock, error) {
	s := spring.Stock{Name: r.cell("name")}
	if s.Name != "" {
		if err := quantity.CheckName("name", s.Name); err != nil {
			return s, r.wrong("%w", err)
		}
	}
	for _, x := range []struct {
		column string
		to     func(uncertainty.Quantity)
		must   bool
	}{
		{"thickness", func(q uncertainty.Quantity) { s.Thickness = q }, true},
		{"height", func(q uncertainty.Quantity) { s.Height = &q }, false},
		{"length", func(q uncertainty.Quantity) { s.Length = &q }, false},
	} {
		text := r.cell(x.column)
		if text == "" && !x.must {
			continue
		}
		l, err := quantity.ParseLength(text, a.assume())
		if err != nil {
			return s, r.wrong("%s %w", x.column, err)
		}
		if l.Metres <= 0 {
			return s, r.wrong("%s %s: must be more than nothing", x.column, text)
		}
		q, _ := analysis.TypedLength(x.column, l, a.springOptions())
		x.to(q)
	}
	if text := r.cell("quantity"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil || n < 0 {
			return s, r.wrong("quantity %q is no count of strips: write 0, 1, 2 …, or leave it empty", text)
		}
		s.Quantity = &n
	}
	return s, nil
}

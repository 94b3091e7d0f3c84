package page

import (
	"bytes"
	"net/http"

	"evenbeat/plots"
)

// sheetPlace is the job sheet as it prints, or the customer's page of it.
func sheetPlace(p *Page, name, path string, customer bool) place {
	return place{Name: name, Path: path, Routes: map[string]answer{"GET " + path: func(w http.ResponseWriter, r *http.Request) error {
		sheet, err := p.drawOf(r, name, "", func(f plots.Findings) ([]byte, error) {
			var out bytes.Buffer
			err := p.Sheet(&out, f, customer)
			return out.Bytes(), err
		})
		if err != nil {
			return err
		}
		p.send(w, http.StatusOK, "text/html; charset=utf-8", sheet)
		return nil
	}}}
}

package page

import (
	"bytes"
	"net/http"

	"evenbeat/plots"
)

func sheetPlace(p *Page) place {
	return place{Name: "Sheet", Path: "/clocks/{id}/sheet", Routes: map[string]answer{"GET /clocks/{id}/sheet": p.showSheet}}
}

// showSheet shows the job sheet as it prints.
func (p *Page) showSheet(w http.ResponseWriter, r *http.Request) error {
	sheet, err := p.drawOf(r, "sheet", "", func(f plots.Findings) ([]byte, error) {
		var out bytes.Buffer
		err := plots.Sheet(&out, plots.SheetInput{Findings: f, Made: p.Now(), Version: p.Version})
		return out.Bytes(), err
	})
	if err != nil {
		return err
	}
	p.send(w, http.StatusOK, "text/html; charset=utf-8", sheet)
	return nil
}

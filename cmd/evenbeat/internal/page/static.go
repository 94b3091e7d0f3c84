package page

import (
	"embed"
	"io/fs"
	"net/http"
	"path"
)

//go:embed static
var staticFiles embed.FS

// staticPlace serves the style, which all places share, and the scripts.
func staticPlace(p *Page) place {
	routes := map[string]answer{}
	var style []byte
	all, err := fs.Glob(staticFiles, "static/*")
	if err != nil {
		panic(err) // the pattern is a sound one
	}
	for _, name := range all {
		text, err := staticFiles.ReadFile(name)
		if err != nil {
			panic(err) // it is embedded
		}
		if path.Ext(name) == ".css" {
			style = append(style, text...)
			continue
		}
		routes["GET /"+path.Base(name)] = p.always("text/javascript; charset=utf-8", text)
	}
	routes["GET /style.css"] = p.always("text/css; charset=utf-8", style)
	return place{Routes: routes}
}

// always answers with the same text.
func (p *Page) always(kind string, text []byte) answer {
	return func(w http.ResponseWriter, _ *http.Request) error {
		p.send(w, http.StatusOK, kind, text)
		return nil
	}
}

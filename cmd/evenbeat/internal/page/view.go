package page

import (
	"bytes"
	"embed"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"evenbeat/cmd/evenbeat/internal/render"
	"evenbeat/devices/quantity"
	"evenbeat/sessions"
)

//go:embed templates/*.html
var templateFiles embed.FS

// pages are the templates of all places, each in the layout that all have in common. They
// are read when the first page is asked for: no other command needs them.
var pages = sync.OnceValue(func() map[string]*template.Template {
	layout := template.Must(template.New("").Funcs(template.FuncMap{"field": fieldOf, "here": here}).
		ParseFS(templateFiles, "templates/layout.html", "templates/parts.html"))
	all := map[string]*template.Template{}
	files, err := templateFiles.ReadDir("templates")
	if err != nil {
		panic(err) // it is embedded
	}
	for _, f := range files {
		if name := f.Name(); name != "layout.html" && name != "parts.html" {
			all[name] = template.Must(template.Must(layout.Clone()).ParseFS(templateFiles, "templates/"+name))
		}
	}
	return all
})

// here leaves out of advice the commands by which it is followed in a terminal.
func here(advice string) string {
	for {
		before, rest, ok := strings.Cut(advice, " with `evenbeat ")
		_, after, ended := strings.Cut(rest, "`")
		if !ok || !ended {
			return advice
		}
		advice = before + after
	}
}

// told are the sentences that a page can say of what was just done, by the name that
// stands in the address. An address can name no other words.
var told = map[string]string{
	"added":     "The clock is in the book.",
	"begun":     "It has begun, and goes on when this page is closed.",
	"finished":  "It is finished, and all of it is in the book.",
	"listening": "Listening goes on when this page is closed.",
	"stop":      "The port is free again.",
	"capture":   "What arrives is captured from now on.",
	"captured":  "The capture is whole, beside the book.",
	"back":      "It is taken back: it stays in the book, but is left out of every calculation.",
	"checked":   "The check is in the book.",
	"noted":     "The note is in the book.",
	"wound":     "The winding is in the book. " + render.WindingCaution,
}

// view is what a template gets.
type view struct {
	Title  string
	Clock  *sessions.Clock // whose page it is; nil for a page of the bench
	Data   any
	Places []link // of the bench, then of the clock
	Said   string // what was just done
	Script string // of the place's own
}

// link leads to a place from the header.
type link struct {
	Name, Path string
	Here       bool // it is the place that is shown
}

// show sets a template into the layout and sends it.
func (p *Page) show(w http.ResponseWriter, r *http.Request, status int, name string, v view) {
	for _, l := range p.header {
		if !strings.Contains(l.Path, "{id}") && l.Name != "" {
			v.Places = append(v.Places, link{l.Name, l.Path, l.Path == r.URL.Path})
		}
		if v.Clock != nil && addressOf(l.Path, *v.Clock) == r.URL.Path || l.Path == r.URL.Path {
			v.Script = l.Script
		}
	}
	if v.Clock != nil {
		v.Places = append(v.Places, p.linksOf(*v.Clock, r.URL.Path)...)
	}
	v.Said = told[r.URL.Query().Get("told")]
	p.write(w, status, name, "layout", v)
}

// linksOf are the links to the places of one clock.
func (p *Page) linksOf(c sessions.Clock, here string) (links []link) {
	for _, l := range p.header {
		if strings.Contains(l.Path, "{id}") && l.Name != "" {
			path := addressOf(l.Path, c)
			links = append(links, link{l.Name, path, path == here})
		}
	}
	return links
}

// write sends one template of a page.
func (p *Page) write(w http.ResponseWriter, status int, name, part string, data any) {
	text, err := set(name, part, data)
	if err != nil {
		p.Log.Error().Err(err).Msg("bench page")
		http.Error(w, "The page can't be made. The terminal that runs evenbeat bench says why.", http.StatusInternalServerError)
		return
	}
	p.send(w, status, "text/html; charset=utf-8", text)
}

// set writes a template of a page. Characters that can't be seen, or that turn words
// round, are shown.
func set(name, part string, data any) ([]byte, error) {
	var b bytes.Buffer
	if err := pages()[name].ExecuteTemplate(&b, part, data); err != nil {
		return nil, err
	}
	return []byte(quantity.Visible(b.String())), nil
}

// send sends an answer that is made, and gives the browser time to take it from now on.
func (p *Page) send(w http.ResponseWriter, status int, kind string, body []byte) {
	if err := http.NewResponseController(w).SetWriteDeadline(time.Now().Add(p.limits.answer)); err != nil {
		p.Log.Debug().Err(err).Msg("bench page")
	}
	w.Header().Set("Content-Type", kind)
	w.WriteHeader(status)
	if _, err := w.Write(body); err != nil {
		p.Log.Debug().Err(err).Msg("bench page: the browser went away")
	}
}

// goTo sends a browser on after its form was taken. The page there says the sentence
// that told has under a name; "" says nothing.
func (p *Page) goTo(w http.ResponseWriter, r *http.Request, path, say string) {
	if say != "" {
		path += "?" + url.Values{"told": {say}}.Encode()
	}
	http.Redirect(w, r, path, http.StatusSeeOther)
}

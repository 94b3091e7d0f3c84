package page

import (
	"bytes"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"io"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"evenbeat/plots"
)

const (
	tokenName = "token"
	mostBody  = 64 << 10 // bytes
)

// policy lets the page use its own style, script and figures, the sheet's style, and
// nothing else.
func policy() string {
	sheet := sha256.Sum256([]byte(plots.SheetStyle()))
	return "default-src 'none'; script-src 'self'; style-src 'self' 'sha256-" + base64.StdEncoding.EncodeToString(sheet[:]) +
		"'; img-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; base-uri 'self'; form-action 'self'"
}

// guard lets through who asks for this page by its own address and knows the token.
func (p *Page) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", p.policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		if !p.isOurs(r) {
			http.Error(w, "This page has another address: open the link that evenbeat bench shows in its terminal.", http.StatusMisdirectedRequest)
			return
		}
		// Read here, no body holds a connection beyond its deadline.
		body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
		if err != nil {
			h.Set("Connection", "close")
			http.Error(w, "That is too much, or came too slowly.", http.StatusRequestEntityTooLarge)
			return
		}
		r.Body = io.NopCloser(bytes.NewReader(body))
		// The request has been read, and its answer may take longer than that may.
		if err := http.NewResponseController(w).SetReadDeadline(time.Time{}); err != nil {
			p.Log.Debug().Err(err).Msg("bench page")
		}
		if p.token == "" {
			next.ServeHTTP(w, r)
			return
		}
		if r.Method == http.MethodGet && r.URL.Path == "/" && p.isToken(r.URL.Query().Get(tokenName)) {
			// Out of the address, where it would be seen, kept and passed on.
			http.SetCookie(w, &http.Cookie{Name: p.cookie(), Value: p.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
			http.Redirect(w, r, "/", http.StatusSeeOther)
			return
		}
		if !p.knows(r) {
			http.Error(w, "Open the link that evenbeat bench shows in its terminal.", http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// knows reports whether a request carries the token: in a browser's cookie, or as a
// program sends it that watches clocks (RFC 6750, section 2.1). No other site can make a
// browser send that header.
func (p *Page) knows(r *http.Request) bool {
	if scheme, token, _ := strings.Cut(r.Header.Get("Authorization"), " "); strings.EqualFold(scheme, "Bearer") && p.isToken(token) {
		return true
	}
	c, err := r.Cookie(p.cookie())
	return err == nil && p.isToken(c.Value)
}

func (p *Page) isToken(s string) bool {
	return subtle.ConstantTimeCompare([]byte(s), []byte(p.token)) == 1
}

// cookie is the name of the cookie with the token. Browsers don't tell ports apart in
// cookies, so the port is in it.
func (p *Page) cookie() string { return "evenbeat-" + strconv.Itoa(p.bound().Port) }

// isOurs reports whether a request names the address that it came in by. Another site can
// give this computer a name, and so make browsers take the page for its own; it can't
// make them send another name than that.
func (p *Page) isOurs(r *http.Request) bool {
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok {
		return false
	}
	host, port, err := net.SplitHostPort(r.Host)
	if err != nil {
		host, port = strings.Trim(r.Host, "[]"), "80"
	}
	switch {
	case port != strconv.Itoa(local.Port):
		return false
	case strings.EqualFold(host, "localhost"):
		return local.IP.IsLoopback()
	case p.name != "" && strings.EqualFold(host, p.name):
		return true
	}
	return local.IP.Equal(net.ParseIP(host))
}

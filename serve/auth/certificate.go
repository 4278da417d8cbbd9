package auth

import (
	"bytes"
	_ "embed"
	"html/template"
	"net/http"

	"groundsheet/serve/authority"
)

//go:embed certificate.html
var certificateHTML string

// certificatePage hands out the certificate that phones have to trust, and says in
// plain words what that means.
type certificatePage struct {
	der         []byte
	fingerprint string
	page        *template.Template
}

func newCertificatePage(a *authority.Authority) *certificatePage {
	return &certificatePage{a.DER(), a.Fingerprint(), template.Must(template.New("certificate").Parse(certificateHTML))}
}

// answer gives the certificate itself at /ca.crt and the page about it at
// /certificate, to everybody: neither is a secret.
func (c *certificatePage) answer(w http.ResponseWriter, r *http.Request) bool {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		return false
	}
	switch r.URL.Path {
	case "/ca.crt":
		page{"application/x-x509-ca-cert", c.der}.send(w, r, http.StatusOK)
	case "/certificate":
		c.send(w, r)
	default:
		return false
	}
	return true
}

func (c *certificatePage) send(w http.ResponseWriter, r *http.Request) {
	var b bytes.Buffer
	const line = 3 * 8 // signs: eight pairs with their colons
	var lines []string
	for rest := c.fingerprint; rest != ""; rest = rest[min(line, len(rest)):] {
		lines = append(lines, rest[:min(line, len(rest))])
	}
	err := c.page.Execute(&b, map[string]any{"Map": "https://" + r.Host + "/", "Fingerprint": lines})
	if err != nil {
		deny(w, http.StatusInternalServerError, "the page about the certificate cannot be made")
		return
	}
	page{"text/html; charset=utf-8", b.Bytes()}.send(w, r, http.StatusOK)
}

// bare is what plain HTTP answers on a server that speaks HTTPS: the page about
// the certificate, with the way on to the map. It sends nobody on by itself: the
// first thing a new phone would see is its browser's warning.
func (g *Gate) bare() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case !g.proper(w, r), g.ca.answer(w, r):
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			deny(w, http.StatusUpgradeRequired, "this server speaks HTTPS: ask https:// instead of http://")
		case r.URL.Path == "/join.css", r.URL.Path == "/icon.svg":
			g.pages[r.URL.Path].send(w, r, http.StatusOK)
		case r.URL.Path == "/", r.URL.Path == "/join":
			g.ca.send(w, r)
		default:
			deny(w, http.StatusForbidden, "this server speaks HTTPS: ask https:// instead of http://")
		}
	})
}

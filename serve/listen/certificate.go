package listen

import (
	"bytes"
	_ "embed"
	"html/template"
	"net/http"
	"slices"

	"groundsheet/serve/auth"
)

//go:embed certificate.html
var certificateHTML string

var certificatePage = template.Must(template.New("certificate").Parse(certificateHTML))

// certificate hands out the certificate that phones install, and a page that says
// in plain words what that means. Neither is secret, so no code is asked for.
type certificate struct {
	handler     *auth.Handler
	der         []byte
	fingerprint string
}

const certificatePath, downloadPath = "/certificate", "/ca.crt"

// ServeHTTP answers over HTTPS: the certificate, and all else by the handler.
func (c *certificate) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	switch {
	case !isGet(r) || r.URL.Path != certificatePath && r.URL.Path != downloadPath:
		c.handler.ServeHTTP(w, r)
	case c.handler.Check(w, r):
		c.send(w, r)
	}
}

// plain answers over plain HTTP: the page about the certificate, with a link to the map. It
// redirects nobody: the first thing that a new phone saw would be its browser's warning.
func (c *certificate) plain(w http.ResponseWriter, r *http.Request) {
	const wrongScheme = "this server speaks HTTPS: ask https:// instead of http://"
	if !c.handler.Check(w, r) {
		return
	}
	if !isGet(r) {
		auth.Deny(w, http.StatusUpgradeRequired, wrongScheme)
		return
	}
	switch r.URL.Path {
	case "/", "/join", certificatePath, downloadPath:
		c.send(w, r)
	case "/join.css", "/icon.svg":
		c.handler.ServeHTTP(w, r)
	default:
		auth.Deny(w, http.StatusForbidden, wrongScheme)
	}
}

func isGet(r *http.Request) bool { return r.Method == http.MethodGet || r.Method == http.MethodHead }

func (c *certificate) send(w http.ResponseWriter, r *http.Request) {
	if r.URL.Path == downloadPath {
		auth.File{MediaType: "application/x-x509-ca-cert", Body: c.der}.Send(w, r, http.StatusOK)
		return
	}
	var lines []string
	for line := range slices.Chunk([]byte(c.fingerprint), 8*len("FF:")) {
		lines = append(lines, string(line))
	}
	var b bytes.Buffer
	if certificatePage.Execute(&b, map[string]any{"Map": "https://" + r.Host + "/", "Fingerprint": lines}) != nil {
		auth.Deny(w, http.StatusInternalServerError, "the page about the certificate cannot be made")
		return
	}
	auth.File{MediaType: "text/html; charset=utf-8", Body: b.Bytes()}.Send(w, r, http.StatusOK)
}

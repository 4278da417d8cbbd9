package desk

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"net/http"
	"strings"
	"sync"
)

// secretHeader carries the secret with each request. There is no cookie: a browser adds
// nothing by itself to what another page asks.
const secretHeader = "Groundsheet-Desk"

// policy lets the page load from the desk alone, show pictures that it fetched itself,
// and be framed by nobody (CSP Level 3).
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; " +
	"connect-src 'self'; frame-src blob:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// door decides who comes in.
type door struct {
	secret string // 256 bits, new with each start
	host   string // the address and port that it listens on

	first  sync.Once
	opened func() // called at the first request that is let in; nil = none
}

func newDoor() (*door, error) {
	b := make([]byte, 32)
	if _, err := rand.Read(b); err != nil {
		return nil, err
	}
	return &door{secret: base64.RawURLEncoding.EncodeToString(b)}, nil
}

// guard lets requests through to next that were made by the desk's own page: to the
// address it listens on (a name that was made to lead here is another host), with the
// secret, and what changes something from the page's own origin. The files of the page
// are the same for everybody and say nothing.
func (d *door) guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Embedder-Policy", "require-corp")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		if r.Host != d.host {
			http.Error(w, "this is not the address of the desk", http.StatusMisdirectedRequest)
			return
		}
		if !strings.HasPrefix(r.URL.Path, "/api/") {
			next.ServeHTTP(w, r)
			return
		}
		h.Set("Cache-Control", "no-store")
		if why := d.refusal(r); why != "" {
			http.Error(w, why, http.StatusForbidden)
			return
		}
		if d.opened != nil {
			d.first.Do(d.opened)
		}
		next.ServeHTTP(w, r)
	})
}

// refusal says why a request for data is not answered, "" when it is.
func (d *door) refusal(r *http.Request) string {
	given := r.Header.Get(secretHeader)
	if subtle.ConstantTimeCompare([]byte(given), []byte(d.secret)) != 1 {
		return "open the desk by the link that groundsheet desk has written"
	}
	own := "http://" + d.host
	origin, stated := r.Header["Origin"]
	if stated && (len(origin) != 1 || origin[0] != own) {
		return "another page asks"
	}
	if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "same-origin" {
		return "another page asks"
	}
	if r.Method != http.MethodGet && !stated {
		return "a change is asked for by a page of the desk, with its origin"
	}
	return ""
}

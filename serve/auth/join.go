package auth

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io/fs"
	"mime"
	"net/http"

	"groundsheet/serve/web"
)

// page is one file of the join page.
type page struct {
	media string
	body  []byte
}

func joinPages(files fs.FS) (map[string]page, error) {
	if files == nil {
		return nil, fmt.Errorf("the join page is not in this program; build it: go run ./cmd/dev build")
	}
	pages := map[string]page{}
	for at, name := range map[string]string{"/join": "join.html", "/join.js": "join.js", "/join.css": "join.css", "/icon.svg": "icon.svg"} {
		body, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, fmt.Errorf("the join page is not in this program; build it: go run ./cmd/dev build (%w)", err)
		}
		pages[at] = page{web.MediaOf(name), body}
	}
	return pages, nil
}

// withLetters lets a phone show its whole keyboard for a code that is not of digits.
func (p page) withLetters() page {
	p.body = bytes.Replace(p.body, []byte(`inputmode="numeric"`), []byte(`inputmode="text"`), 1)
	return p
}

func (p page) send(w http.ResponseWriter, r *http.Request, status int) {
	h := w.Header()
	setHeaders(h, joinPolicy)
	h.Set("Content-Type", p.media)
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = bytes.NewReader(p.body).WriteTo(w) // the phone went away: nobody is left to tell
	}
}

// ownPath answers what the gate answers itself, whoever asks: the join page, what
// it asks for, and coming in and going out.
func (g *Gate) ownPath(w http.ResponseWriter, r *http.Request) bool {
	get := r.Method == http.MethodGet || r.Method == http.MethodHead
	if p, ok := g.pages[r.URL.Path]; ok && get {
		p.send(w, r, http.StatusOK)
		return true
	}
	switch {
	case r.URL.Path == "/join" && r.Method == http.MethodPost:
		g.join(w, r)
	case r.URL.Path == "/leave" && r.Method == http.MethodPost:
		http.SetCookie(w, cookie(r, "", 0))
		// What the phone kept goes too, where it came by HTTPS: browsers heed this only there.
		w.Header().Set("Clear-Site-Data", `"cache", "storage"`)
		say(w, Nobody)
	case r.URL.Path == "/session" && get:
		role, _, wait := g.roleOf(r)
		if wait > 0 {
			tooMany(w, wait)
			return true
		}
		say(w, role)
	default:
		return false
	}
	return true
}

// join changes a code for a session. It sends nobody anywhere: where to go
// next is no matter of the request.
func (g *Gate) join(w http.ResponseWriter, r *http.Request) {
	var said struct {
		Code string `json:"code"`
	}
	if media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || media != "application/json" {
		deny(w, http.StatusUnsupportedMediaType, `want {"code": "…"} as application/json`)
		return
	}
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1024)).Decode(&said); err != nil {
		deny(w, http.StatusBadRequest, `want {"code": "…"} in at most 1024 bytes`)
		return
	}
	role, wait := g.take(r, said.Code)
	switch {
	case wait > 0:
		tooMany(w, wait)
	case role == Nobody:
		g.log.Info("a wrong join code", "from", client(r)) // no trouble: people mistype; [Gate.Guessing] tells of many
		deny(w, http.StatusForbidden, "this is not the code of this map")
	default:
		token, life := g.sessions.make(role)
		http.SetCookie(w, cookie(r, token, life))
		say(w, role)
	}
}

// say tells the page what its phone may do.
func say(w http.ResponseWriter, role Role) {
	h := w.Header()
	setHeaders(h, joinPolicy)
	h.Set("Content-Type", "application/json")
	h.Set("Cache-Control", "no-store")
	body, _ := json.Marshal(map[string]string{"role": role.String()}) // strings never fail
	_, _ = w.Write(append(body, '\n'))                                // the phone went away: nobody is left to tell
}

package auth

import (
	"bytes"
	"embed"
	"encoding/json"
	"io/fs"
	"mime"
	"net/http"

	"groundsheet/serve/web"
	"groundsheet/tiles/fault"
)

// File is a public file, such as the join page.
type File struct {
	MediaType string
	Body      []byte
}

// joinFiles reads the files of the join page; the keys are their paths.
func joinFiles(page fs.FS) (map[string]File, error) {
	if page == nil {
		page = embed.FS{} // empty
	}
	files := map[string]File{}
	for path, name := range map[string]string{
		"/join": "join.html", "/join.js": "join.js", "/join.css": "join.css", "/guard.js": "guard.js",
		"/icon.svg": "icon.svg", "/apple-touch-icon.png": "apple-touch-icon.png",
	} {
		body, err := fs.ReadFile(page, name)
		if err != nil {
			const detail, remedy = "the join page is not in this program", "build it: go run ./cmd/dev build"
			return nil, &fault.Fault{Detail: detail, Err: err, Remedy: remedy}
		}
		files[path] = File{web.MediaOf(name), body}
	}
	// A phone may ask for these without the session when the map is put on its home screen.
	for _, name := range []string{"manifest.webmanifest", "icon-192.png", "icon-512.png", "icon-maskable-512.png"} {
		if body, err := fs.ReadFile(page, name); err == nil {
			files["/"+name] = File{web.MediaOf(name), body}
		}
	}
	return files, nil
}

// withLetters lets phones show the full keyboard for codes with letters.
func (f File) withLetters() File {
	f.Body = bytes.Replace(f.Body, []byte(`inputmode="numeric"`), []byte(`inputmode="text"`), 1)
	return f
}

// Send answers with the file. No cache keeps it.
func (f File) Send(w http.ResponseWriter, r *http.Request, status int) {
	h := w.Header()
	setHeaders(h, joinPolicy)
	h.Set("Content-Type", f.MediaType)
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	if r.Method != http.MethodHead {
		_, _ = w.Write(f.Body) // the client is gone
	}
}

func isGet(r *http.Request) bool { return r.Method == http.MethodGet || r.Method == http.MethodHead }

// answer serves the paths that need no role: the join page with its files, joining,
// leaving, and the role of a session.
func (h *Handler) answer(w http.ResponseWriter, r *http.Request) bool {
	if f, ok := h.files[r.URL.Path]; ok && isGet(r) {
		f.Send(w, r, http.StatusOK)
		return true
	}
	switch {
	case r.URL.Path == "/join" && r.Method == http.MethodPost:
		h.join(w, r)
	case r.URL.Path == "/leave" && r.Method == http.MethodPost:
		http.SetCookie(w, cookie(r, ""))
		// Removes what the phone stored; browsers heed it over HTTPS only.
		w.Header().Set("Clear-Site-Data", `"cache", "storage"`)
		sendRole(w, r, Nobody)
	case r.URL.Path == "/session" && isGet(r):
		role, _, wait := h.authenticate(r)
		if wait > 0 {
			denyForNow(w, wait)
			return true
		}
		sendRole(w, r, role)
	default:
		return false
	}
	return true
}

// join exchanges a code for a session. It never redirects: no request decides where a
// phone goes next.
func (h *Handler) join(w http.ResponseWriter, r *http.Request) {
	var request struct {
		Code string `json:"code"`
	}
	if media, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || media != "application/json" {
		Deny(w, http.StatusUnsupportedMediaType, `want {"code": "…"} as application/json`)
		return
	}
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1024)).Decode(&request); err != nil {
		Deny(w, http.StatusBadRequest, `want {"code": "…"} in at most 1024 bytes`)
		return
	}
	role, wait := h.tryCode(r, request.Code)
	switch {
	case wait > 0:
		denyForNow(w, wait)
	case role == Nobody:
		h.log.Info("a wrong join code", "from", sender(r)) // no warning, people mistype; [Handler.Guessing] has many
		Deny(w, http.StatusForbidden, "this is not the code of this map")
	default:
		http.SetCookie(w, cookie(r, h.sessions.issue(role)))
		sendRole(w, r, role)
	}
}

// sendRole tells the page what its phone may do.
func sendRole(w http.ResponseWriter, r *http.Request, role Role) {
	body, _ := json.Marshal(map[string]string{"role": role.String()}) // strings never fail
	File{"application/json", append(body, '\n')}.Send(w, r, http.StatusOK)
}

package serve

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"time"
)

// asset is one file of the page, ready to send.
type asset struct {
	media        string
	plain, small []byte // small is compressed; nil where that does not pay
	tag          string
}

// pageHandler reads the page once and serves it from memory.
func pageHandler(files fs.FS) (http.Handler, error) {
	assets := map[string]asset{}
	err := fs.WalkDir(files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".") {
			return err
		}
		body, err := fs.ReadFile(files, name)
		if err != nil {
			return err
		}
		assets["/"+name] = newAsset(name, body)
		return nil
	})
	if err != nil {
		return nil, err
	}
	assets["/"] = assets["/index.html"]
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a, ok := assets[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		a.serve(w, r)
	}), nil
}

func newAsset(name string, body []byte) asset {
	media := mime.TypeByExtension(path.Ext(name))
	switch path.Ext(name) { // not left to the machine's own table
	case ".html":
		media = "text/html; charset=utf-8"
	case ".js":
		media = "text/javascript; charset=utf-8"
	case ".css":
		media = "text/css; charset=utf-8"
	case ".svg":
		media = "image/svg+xml"
	case ".webmanifest":
		media = "application/manifest+json"
	}
	sum := sha256.Sum256(body)
	a := asset{media: media, plain: body, tag: fmt.Sprintf("%x", sum[:12])}
	if small := zip(body); len(small) < len(body)*9/10 {
		a.small = small
	}
	return a
}

func (a asset) serve(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Type", a.media)
	h.Set("Cache-Control", "no-cache")
	h.Set("Vary", "Accept-Encoding")
	body, tag := a.plain, a.tag
	if a.small != nil && acceptsGzip(r) {
		h.Set("Content-Encoding", "gzip")
		body, tag = a.small, tag+"-gzip"
	}
	h.Set("ETag", `"`+tag+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
}

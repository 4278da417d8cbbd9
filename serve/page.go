package serve

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"strconv"
	"strings"
	"time"

	"groundsheet/serve/web"
)

// asset is a document ready to send: its bytes, and where that pays the
// compressed ones.
type asset struct {
	media        string
	plain, small []byte // small is nil where compressing does not pay
	length       int64  // of a document that is kept compressed alone, see [pressed]; 0 = plain is there
	tag          string
	keep         string // how long it may be kept unasked; "" = not at all
}

func newAsset(media string, body []byte) asset {
	sum := sha256.Sum256(body)
	a := asset{media: media, plain: body, tag: fmt.Sprintf("%x", sum[:12])}
	if len(body) < 1024 {
		return a
	}
	if small := zip(body, gzip.DefaultCompression); len(small) < len(body)*9/10 {
		a.small = small
	}
	return a
}

// serve answers under a strong ETag of the content.
func (a asset) serve(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Type", a.media)
	h.Set("Cache-Control", cmp.Or(a.keep, "no-cache"))
	h.Add("Vary", "Accept-Encoding")
	body, tag := io.ReadSeeker(bytes.NewReader(a.plain)), a.tag
	switch {
	case a.small != nil && acceptsGzip(r):
		h.Set("Content-Encoding", "gzip")
		body, tag = bytes.NewReader(a.small), tag+"-gzip"
	case a.length > 0:
		body = &unpressing{small: a.small, length: a.length}
	}
	h.Set("ETag", `"`+tag+`"`)
	http.ServeContent(w, r, "", time.Time{}, body)
}

func acceptsGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, q, weighed := strings.Cut(strings.ReplaceAll(part, " ", ""), ";q=")
		if !strings.EqualFold(name, "gzip") {
			continue
		}
		weight, err := strconv.ParseFloat(q, 64)
		return !weighed || err == nil && weight > 0
	}
	return false
}

func zip(body []byte, level int) []byte {
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, level) // a level that there is
	_, _ = z.Write(body)                   // a bytes.Buffer never fails
	_ = z.Close()
	return b.Bytes()
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
		assets["/"+name] = newAsset(web.MediaOf(name), body)
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

// originOf is scheme and host as they were asked, for absolute addresses.
func originOf(r *http.Request) string {
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

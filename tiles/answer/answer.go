// Package answer makes the responses of sources that answer like a tile server
// without being one: files of this computer, pictures and drawings.
package answer

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"time"
)

// Template is the address of a tile at such a source, by a name of its own. The host
// name is one that never exists (RFC 6761, 6.4): the address leads nowhere else.
func Template(name string) string { return "http://" + name + ".invalid/{z}/{x}/{y}" }

// Header says that nothing is to be guessed from the age of a file: the terms count.
func Header() http.Header { return http.Header{"Cache-Control": {"no-cache"}} }

// Tile answers with an image, or 304 when the request has its tag.
func Tile(r *http.Request, h http.Header, tag string, data []byte) *http.Response {
	h.Set("ETag", tag)
	if r.Header.Get("If-None-Match") == tag {
		return Response(r, http.StatusNotModified, h, nil)
	}
	h.Set("Content-Type", http.DetectContentType(data))
	h.Set("Content-Length", strconv.Itoa(len(data)))
	return Response(r, http.StatusOK, h, data)
}

// Response is an answer to a request with a status and a body.
func Response(r *http.Request, status int, h http.Header, body []byte) *http.Response {
	h.Set("Date", time.Now().UTC().Format(http.TimeFormat))
	return &http.Response{
		Status: fmt.Sprint(status, " ", http.StatusText(status)), StatusCode: status, Proto: "HTTP/1.1",
		ProtoMajor: 1, ProtoMinor: 1,
		Header: h, Body: io.NopCloser(bytes.NewReader(body)), ContentLength: int64(len(body)), Request: r,
	}
}

package local

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
)

// longest is how long a tile may be, in bytes: a hostile file must not fill the
// memory.
const longest = 64 << 20

// template is the address of a tile. The host name is one that never exists
// (RFC 6761, 6.4): such an address leads nowhere but here.
const template = "http://local.invalid/{z}/{x}/{y}"

// Files are the tiles of one local source. Make them with [OpenMBTiles] or
// [OpenFolder]; they are safe for concurrent use until they are closed.
type Files struct {
	Template string // address of a tile, for source.Source.Templates

	from  reader
	close func() error
}

// reader gives a tile's bytes and when they last changed; no bytes when it has
// no such tile.
type reader func(ctx context.Context, t tiles.ID) ([]byte, time.Time, error)

// Unusable is the kind of fault of a file or folder that cannot be a source.
var Unusable = fault.Input("unusable")

func unusable(path, why, remedy string) error {
	return &fault.Fault{Kind: Unusable, Place: path, Detail: why, Remedy: remedy}
}

// Close lets the files go.
func (f *Files) Close() error { return f.close() }

// RoundTrip answers a request for [Files.Template]: 200 with the image, 304
// when the validators sent still hold, 404 when there is no such tile. The
// error is one of the disk or of the file.
func (f *Files) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Body != nil {
		defer r.Body.Close()
	}
	w := &answer{header: http.Header{}}
	if err := f.serve(w, r); err != nil {
		return nil, err
	}
	return w.response(r), nil
}

func (f *Files) serve(w *answer, r *http.Request) error {
	w.header.Set("Date", time.Now().UTC().Format(http.TimeFormat))
	// Not to be guessed from the age of the file: what the terms say counts.
	w.header.Set("Cache-Control", "no-cache")
	id, err := tiles.ParseID(strings.TrimPrefix(r.URL.Path, "/"))
	if err != nil {
		w.WriteHeader(http.StatusNotFound)
		return nil
	}
	data, modified, err := f.from(r.Context(), id)
	if err != nil {
		return err
	}
	if len(data) == 0 {
		w.WriteHeader(http.StatusNotFound)
		return nil
	}
	sum := sha256.Sum256(data)
	w.header.Set("ETag", `"`+hex.EncodeToString(sum[:16])+`"`)
	w.header.Set("Content-Type", http.DetectContentType(data))
	http.ServeContent(w, r, "", modified, bytes.NewReader(data))
	return nil
}

// answer holds a response in memory.
type answer struct {
	header http.Header
	status int
	body   bytes.Buffer
}

func (a *answer) Header() http.Header { return a.header }

func (a *answer) WriteHeader(status int) {
	if a.status == 0 {
		a.status = status
	}
}

func (a *answer) Write(b []byte) (int, error) {
	a.WriteHeader(http.StatusOK)
	return a.body.Write(b)
}

func (a *answer) response(r *http.Request) *http.Response {
	length := int64(a.body.Len())
	if a.status == http.StatusOK {
		a.header.Set("Content-Length", strconv.FormatInt(length, 10))
	}
	return &http.Response{
		Status: fmt.Sprint(a.status, " ", http.StatusText(a.status)), StatusCode: a.status,
		Proto: "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1,
		Header: a.header, Body: io.NopCloser(&a.body), ContentLength: length, Request: r,
	}
}

// Package practice is the practice source: a real HTTP tile server that draws
// aerial-like imagery of an invented place from nothing but coordinates. It
// speaks HTTP as a careful tile source does (validators, freshness, refusals
// now and then), so a whole job can be rehearsed with no network at all.
package practice

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"image/jpeg"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"groundsheet/tiles"
)

const about = "Practice source of groundsheet: invented imagery, not a real place.\n"

// Options say what the source holds and how it behaves. The zero value is a
// source of the whole world.
type Options struct {
	Area  *tiles.Box  // tiles that do not overlap it are 404; nil = everywhere
	Zooms tiles.Zooms // zero = 0 to 22
	// every nth request for a tile it holds is answered 503; 0 = 97, negative = never
	BusyEvery int
	MaxAge    time.Duration                         // how long an answer stays fresh; 0 = 7 days, negative = stale at once
	Log       func(method, path string, status int) // called after each answer, from many goroutines; may be nil
}

// Server is the practice source as an [http.Handler]. Make it with [New].
type Server struct {
	o Options

	asked  atomic.Int64 // requests for tiles it holds
	mu     sync.Mutex
	counts Counts
}

// Counts are the requests answered so far.
type Counts struct {
	Requests    int64 // all of them, whatever the answer
	Sent        int64 // 200 or 206 for a tile
	NotModified int64 // 304
	Absent      int64 // 404
	Busy        int64 // 503
}

// New makes a practice source.
func New(o Options) *Server {
	if o.Zooms == (tiles.Zooms{}) {
		o.Zooms = tiles.Zooms{Min: 0, Max: 22}
	}
	if o.BusyEvery == 0 {
		o.BusyEvery = 97
	}
	if o.MaxAge == 0 {
		o.MaxAge = 7 * 24 * time.Hour
	}
	return &Server{o: o}
}

// Counts returns the counters.
func (s *Server) Counts() Counts {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.counts
}

// ServeHTTP answers GET and HEAD for /{z}/{x}/{y}.jpg (XYZ rows) and for /. It
// counts a response before sending it, so a client that has read it finds it
// counted.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	a := &answer{ResponseWriter: w, server: s}
	s.serve(a, r)
	if s.o.Log != nil {
		s.o.Log(r.Method, r.URL.Path, a.status)
	}
}

// answer records and counts the status.
type answer struct {
	http.ResponseWriter
	server *Server
	tile   bool // a tile the source holds
	status int
}

func (a *answer) WriteHeader(status int) {
	if a.status == 0 {
		a.status = status
		a.server.count(status, a.tile)
	}
	a.ResponseWriter.WriteHeader(status)
}

func (s *Server) count(status int, tile bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.counts.Requests++
	switch {
	case tile && (status == http.StatusOK || status == http.StatusPartialContent):
		s.counts.Sent++
	case status == http.StatusNotModified:
		s.counts.NotModified++
	case status == http.StatusNotFound:
		s.counts.Absent++
	case status == http.StatusServiceUnavailable:
		s.counts.Busy++
	}
}

func (s *Server) serve(w *answer, r *http.Request) {
	if r.Method != http.MethodGet && r.Method != http.MethodHead {
		w.Header().Set("Allow", "GET, HEAD")
		http.Error(w, "only GET and HEAD", http.StatusMethodNotAllowed)
		return
	}
	if r.URL.Path == "/" {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.Header().Set("Content-Length", strconv.Itoa(len(about)))
		w.WriteHeader(http.StatusOK)
		_, _ = io.WriteString(w, about) // a client that has gone is no matter
		return
	}
	t, ok := parse(r.URL.Path)
	switch {
	case !ok:
		http.Error(w, "no such tile: want /{z}/{x}/{y}.jpg in plain whole numbers", http.StatusNotFound)
		return
	case !s.has(t):
		http.Error(w, "no tile "+t.String()+": outside the area or the zooms of this source", http.StatusNotFound)
		return
	}
	if n := s.asked.Add(1); s.o.BusyEvery > 0 && n%int64(s.o.BusyEvery) == 0 {
		w.Header().Set("Retry-After", "1")
		w.Header().Set("Cache-Control", "no-store")
		http.Error(w, "busy; try again in a second", http.StatusServiceUnavailable)
		return
	}
	w.tile = true
	s.send(w, r, t)
}

// parse reads /{z}/{x}/{y}.jpg; a tile has one spelling only.
func parse(path string) (t tiles.ID, ok bool) {
	text, _ := strings.CutSuffix(strings.TrimPrefix(path, "/"), ".jpg")
	t, err := tiles.ParseID(text)
	return t, err == nil && "/"+t.String()+".jpg" == path
}

// has reports whether the source holds the tile. Touching the area is not
// enough.
func (s *Server) has(t tiles.ID) bool {
	if int(t.Z) < s.o.Zooms.Min || int(t.Z) > s.o.Zooms.Max {
		return false
	}
	a := s.o.Area
	if a == nil {
		return true
	}
	b := t.Bounds()
	return b.West < a.East && b.East > a.West && b.South < a.North && b.North > a.South
}

// send leaves the conditions of the request to net/http, which asks for the
// picture only when it must be sent.
func (s *Server) send(w http.ResponseWriter, r *http.Request, t tiles.ID) {
	h := w.Header()
	h.Set("Content-Type", "image/jpeg")
	h.Set("Cache-Control", fmt.Sprintf("public, max-age=%d", max(s.o.MaxAge, 0)/time.Second))
	h.Set("ETag", etag(t))
	h.Set("X-Content-Type-Options", "nosniff")
	http.ServeContent(w, r, "", published(), &picture{tile: t})
}

// published is the Last-Modified of every tile.
func published() time.Time { return time.Date(2026, time.January, 5, 9, 0, 0, 0, time.UTC) }

// etag names the drawing version and the tile; the picture need not be drawn
// to know it.
func etag(t tiles.ID) string {
	var b [8]byte
	h := mix(uint64(version)<<40 + uint64(t.Z))
	h = mix(h + uint64(t.X)<<32 + uint64(t.Y))
	for i := range b {
		b[i] = byte(h >> (8 * i))
	}
	return `"` + hex.EncodeToString(b[:]) + `"`
}

// picture is the JPEG of a tile, drawn when it is first read.
type picture struct {
	tile  tiles.ID
	bytes *bytes.Reader
}

func (p *picture) drawn() *bytes.Reader {
	if p.bytes == nil {
		p.bytes = bytes.NewReader(encode(p.tile))
	}
	return p.bytes
}

func (p *picture) Read(b []byte) (int, error)               { return p.drawn().Read(b) }
func (p *picture) Seek(at int64, whence int) (int64, error) { return p.drawn().Seek(at, whence) }

// quality is the JPEG quality of the source: 10 to 25 kB a tile.
const quality = 82

func encode(t tiles.ID) []byte {
	var b bytes.Buffer
	// Writing to memory does not fail, and 256×256 is a size JPEG can hold.
	_ = jpeg.Encode(&b, Draw(t), &jpeg.Options{Quality: quality})
	return b.Bytes()
}

package tile

import (
	"errors"
	"net/http"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/words"
)

// response is a tile ready to be sent. It is never changed. nil data = no picture there.
type response struct {
	data    []byte
	headers [3]string // Content-Type, Content-Length and ETag, ready for net/http
	key     string    // the header that names what the tile was rendered from; "" = a tile as packed
	source  []string
}

func (s *Set) newResponse(t tiles.ID, data []byte, kind raster.Kind) *response {
	return &response{data: data, headers: [3]string{kind.MediaType(), strconv.Itoa(len(data)), s.tag(t)}}
}

// tag is the strong ETag of a tile: the version of the pack and the place.
func (s *Set) tag(t tiles.ID) string {
	b := make([]byte, 0, 80)
	b = append(append(b, '"'), s.Version...)
	for _, n := range [3]uint32{t.Z, t.X, t.Y} {
		b = strconv.AppendUint(append(b, '-'), uint64(n), 10)
	}
	return string(append(b, '"'))
}

// send sends a tile; net/http sends no body to a HEAD. Headers are set without
// allocating: most requests of a phone are for tiles.
func (s *Set) send(w http.ResponseWriter, r *http.Request, a *response) {
	h := w.Header()
	if a.data == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	s.setCaching(h, r, a.headers[2:])
	if a.key != "" {
		h[a.key] = a.source
	}
	h["Content-Type"] = a.headers[0:1:1]
	h["Content-Length"] = a.headers[1:2:2]
	if r.Method != http.MethodHead {
		_, _ = w.Write(a.data) // the phone went away: nobody is left to be answered
	}
}

// CacheControl lets a phone keep a tile for a day, but no shared cache: it would hand
// the tile to somebody without the code (RFC 9111, 3 and 5.2.2.7).
const CacheControl = "private, max-age=86400"

// Cache-Control as net/http stores it, of an address with the version in it, and of others.
var cacheable, mustRevalidate = []string{CacheControl}, []string{"no-cache"}

// setCaching lets a phone keep a tile whose address names this version of the pack;
// any other address has to be revalidated each time.
func (s *Set) setCaching(h http.Header, r *http.Request, tag []string) {
	h["Cache-Control"] = mustRevalidate
	if r.URL.RawQuery == s.query || r.URL.RawQuery != "" && r.URL.Query().Get("v") == s.Version {
		h["Cache-Control"] = cacheable
	}
	h["Etag"] = tag
}

// notModified answers 304 to a phone that has this version of a tile.
func (s *Set) notModified(w http.ResponseWriter, r *http.Request, t tiles.ID) bool {
	tags := r.Header["If-None-Match"]
	if len(tags) == 0 {
		return false
	}
	tag := s.tag(t)
	for _, list := range tags {
		for one := range strings.SplitSeq(list, ",") {
			// If-None-Match compares weakly (RFC 9110, 13.1.2).
			if strings.TrimPrefix(strings.TrimSpace(one), "W/") == tag {
				s.setCaching(w.Header(), r, []string{tag})
				w.WriteHeader(http.StatusNotModified)
				return true
			}
		}
	}
	return false
}

// condition is what reading the tiles of a pack has shown: that it is damaged, or too
// slow. A pack that is too slow is not read for a while.
type condition struct {
	damaged atomic.Bool
	slow    atomic.Bool
	until   atomic.Int64 // the end of the pause, in nanoseconds since 1970; 0 = none
	length  atomic.Int64 // of the latest pause, in nanoseconds
}

// errPausing says that a tile was not read or rendered because others took too long.
var errPausing = errors.New("its tiles took too long to read; they are tried again later")

// Trouble is the condition in words; "" = nothing is wrong.
func (c *condition) Trouble() string {
	switch {
	case c.damaged.Load():
		return words.Say("laptop.damaged")
	case c.slow.Load():
		return words.Say("laptop.slow")
	}
	return ""
}

// Pausing reports whether the tiles are not read at present, because they took too long.
func (c *condition) Pausing(now time.Time) bool {
	until := c.until.Load()
	return until != 0 && now.UnixNano() < until
}

// tooSlow begins a pause, twice as long each time up to a minute.
func (c *condition) tooSlow(now time.Time) {
	if c.until.Load() > now.UnixNano() {
		return // another request found it too slow just now
	}
	length := min(max(time.Second, 2*time.Duration(c.length.Load())), time.Minute)
	c.length.Store(int64(length))
	c.until.Store(now.Add(length).UnixNano())
	c.slow.Store(true)
}

// readable ends the pauses: a tile could be read.
func (c *condition) readable() {
	if c.until.Load() != 0 {
		c.until.Store(0)
		c.length.Store(0)
		c.slow.Store(false)
	}
}

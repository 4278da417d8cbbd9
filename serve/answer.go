package serve

import (
	"net/http"
	"strconv"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// answer is a tile ready to be sent. It is never changed. nil data stands for a
// place without a picture.
type answer struct {
	data    []byte
	headers [3]string // Content-Type, Content-Length and ETag, made once
	key     string    // the header that names what it was made from; "" = a tile as packed
	from    []string
}

func (p *site) newAnswer(t tiles.ID, data []byte, kind raster.Kind) *answer {
	return &answer{data: data, headers: [3]string{kind.MediaType(), strconv.Itoa(len(data)), p.tileTag(t)}}
}

// tileTag is the strong ETag of a tile: the version of the pack and the place.
func (p *site) tileTag(t tiles.ID) string {
	b := make([]byte, 0, 80)
	b = append(append(b, '"'), p.tag...)
	for _, n := range [3]uint32{t.Z, t.X, t.Y} {
		b = strconv.AppendUint(append(b, '-'), uint64(n), 10)
	}
	return string(append(b, '"'))
}

// send answers a request for a tile; net/http sends no body to a HEAD.
func (p *site) send(w http.ResponseWriter, r *http.Request, a *answer) {
	h := w.Header()
	if a.data == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	p.tileHeaders(h, r, a.headers[2:])
	if a.key != "" {
		h[a.key] = a.from
	}
	h["Content-Type"] = a.headers[0:1:1]
	h["Content-Length"] = a.headers[1:2:2]
	if r.Method != http.MethodHead {
		_, _ = w.Write(a.data) // the phone went away: nobody is left to tell
	}
}

// keepTile lets a phone keep a tile for a day, and nobody between: a cache on the
// way would hand it to somebody without the code (RFC 9111, 3 and 5.2.2.7).
const keepTile = "private, max-age=86400"

// tileHeaders lets a phone keep a tile whose address names this version of the
// pack; any other address has to be asked again each time.
func (p *site) tileHeaders(h http.Header, r *http.Request, tag []string) {
	h["Cache-Control"] = p.ask
	if r.URL.RawQuery == p.query || r.URL.RawQuery != "" && r.URL.Query().Get("v") == p.tag {
		h["Cache-Control"] = p.keep
	}
	h["Etag"] = tag
}

// unchanged answers 304 to a phone that holds this version of a tile.
func (p *site) unchanged(w http.ResponseWriter, r *http.Request, t tiles.ID) bool {
	held := r.Header["If-None-Match"]
	if len(held) == 0 {
		return false
	}
	tag := p.tileTag(t)
	for _, list := range held {
		for one := range strings.SplitSeq(list, ",") {
			// If-None-Match compares weakly (RFC 9110, 13.1.2).
			if strings.TrimPrefix(strings.TrimSpace(one), "W/") == tag {
				p.tileHeaders(w.Header(), r, []string{tag})
				w.WriteHeader(http.StatusNotModified)
				return true
			}
		}
	}
	return false
}

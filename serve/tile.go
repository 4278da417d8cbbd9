package serve

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// deepest is how far beyond its pack a map may be enlarged: the deepest zoom
// that TileJSON 3.0.0 knows.
const deepest = 30

// enlargedHeader names the packed tile that an enlarged answer was cut from.
const enlargedHeader = "Groundsheet-Enlarged-From"

// tile answers with a tile as it was packed, or enlarged from the deepest
// packed tile over the same ground. Where not even the shallowest zoom has
// one, it answers 204: there is no such place in the pack, and no error.
func (s *Server) tile(w http.ResponseWriter, r *http.Request, p *site) {
	t, ok := parsePlace(r.PathValue("z"), r.PathValue("x"), r.PathValue("file"))
	if !ok {
		http.Error(w, "no such tile: want tiles/ZOOM/COLUMN/ROW.FORMAT", http.StatusNotFound)
		return
	}
	if int(t.Z) < p.pack.Info.Zooms.Min {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	tag := fmt.Sprintf(`"%s-%d-%d-%d"`, p.tag, t.Z, t.X, t.Y)
	if r.Header.Get("If-None-Match") == tag { // known before anything is read or enlarged
		p.tileHeaders(w, r, tag)
		w.WriteHeader(http.StatusNotModified)
		return
	}
	from, data, err := p.pack.Nearest(r.Context(), t)
	if err == nil && data == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	var picture raster.Picture
	if err == nil {
		// Nothing but an image may come from here, whatever the file holds.
		picture, err = raster.Prove(data, 0)
	}
	if err == nil && from != t {
		data, picture.Kind, err = s.enlarge(r.Context(), data, picture, from, t)
	}
	if err != nil {
		s.fail(w, r, fmt.Errorf("tile %v: %w", from, err))
		return
	}
	p.tileHeaders(w, r, tag)
	if from != t {
		w.Header().Set(enlargedHeader, from.String())
	}
	w.Header().Set("Content-Type", picture.Kind.MediaType())
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
}

// tileHeaders lets a phone keep a tile whose address names this version of the
// pack; any other address has to be asked again each time.
func (p *site) tileHeaders(w http.ResponseWriter, r *http.Request, tag string) {
	keep := "no-cache"
	if r.URL.Query().Get("v") == p.tag {
		keep = "max-age=86400"
	}
	w.Header().Set("Cache-Control", keep)
	w.Header().Set("ETag", tag)
}

// largestParent is the side of a tile that is still enlarged, in pixels.
const largestParent = 1024

// enlarge cuts t out of the tile over it. Only as many run at once as there
// are cores, so that a hundred phones do not fill the memory.
func (s *Server) enlarge(ctx context.Context, data []byte, picture raster.Picture, from, t tiles.ID) ([]byte, raster.Kind, error) {
	if picture.Width > largestParent || picture.Height > largestParent {
		return nil, "", fmt.Errorf("%d×%d pixels are too many to enlarge", picture.Width, picture.Height)
	}
	select {
	case s.busy <- struct{}{}:
		defer func() { <-s.busy }()
	case <-ctx.Done():
		return nil, "", ctx.Err()
	}
	img, err := raster.Decode(data)
	if err != nil {
		return nil, "", err
	}
	down := t.Z - from.Z
	mask := uint32(1)<<down - 1
	kind := picture.Kind
	if kind == raster.WebP {
		kind = raster.PNG // there is no WebP encoder
	}
	out, err := raster.Encode(raster.Child(img, down, t.X&mask, t.Y&mask, picture.Width), kind)
	return out, kind, err
}

// parsePlace reads ZOOM, COLUMN and ROW.FORMAT; a format may be left out.
func parsePlace(z, x, file string) (t tiles.ID, ok bool) {
	y, _, _ := strings.Cut(file, ".")
	var n [3]uint32
	for i, text := range []string{z, x, y} {
		v, err := strconv.ParseUint(text, 10, 31)
		if err != nil {
			return t, false
		}
		n[i] = uint32(v)
	}
	t = tiles.ID{Z: n[0], X: n[1], Y: n[2]}
	return t, t.Z <= deepest && t.X < 1<<t.Z && t.Y < 1<<t.Z
}

package serve

import (
	"bytes"
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
	h := w.Header()
	h.Set("Cache-Control", "max-age=300")
	if int(t.Z) < p.pack.Info.Zooms.Min {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	from, data, err := p.pack.Nearest(r.Context(), t)
	switch {
	case err != nil:
		s.fail(w, r, err)
		return
	case data == nil:
		w.WriteHeader(http.StatusNoContent)
		return
	}
	h.Set("ETag", fmt.Sprintf(`"%s-%d-%d-%d"`, p.tag, t.Z, t.X, t.Y))
	if from != t {
		h.Set(enlargedHeader, from.String())
		if data, err = enlarge(data, from, t); err != nil {
			s.fail(w, r, err)
			return
		}
	}
	h.Set("Content-Type", http.DetectContentType(data))
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(data))
}

func enlarge(data []byte, from, t tiles.ID) ([]byte, error) {
	img, err := raster.Decode(data)
	if err != nil {
		return nil, err
	}
	down := t.Z - from.Z
	mask := uint32(1)<<down - 1
	picture, err := raster.Prove(data, 0)
	if err != nil {
		return nil, err
	}
	return raster.Encode(raster.Child(img, down, t.X&mask, t.Y&mask, picture.Width), picture.Kind)
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

package overlay

import (
	"fmt"
	"net/http"
	"strconv"

	"groundsheet/pack/record"
	"groundsheet/serve/auth"
	"groundsheet/serve/document"
	"groundsheet/serve/tile"
	"groundsheet/serve/vectortile"
)

// fields describes the properties of features in tiles.
var fields = map[string]string{
	"depth_m": "meters", "quality_level": "ASCE 38, or the record's own words",
	record.StateProperty: "state of the line as understood", record.KindProperty: "test hole, or nothing",
	vectortile.MoreProperty: "how many others it stands for",
}

// tileJSON describes the vector tiles (TileJSON 3.0.0), and what the page shows of an
// overlay that it does not hold itself. Its zooms are those of tiles of 512 pixels.
func (s *Server) tileJSON(w http.ResponseWriter, r *http.Request, set *Set, l *largeOverlay) {
	x := s.indexOf(w, r, l)
	if x == nil {
		return
	}
	id, c := r.PathValue("id"), x.Content()
	var layers []any
	for _, name := range []string{vectortile.LayerRecords, vectortile.LayerFaces, vectortile.LayerEdges} {
		layers = append(layers, map[string]any{"id": name, "minzoom": 0, "maxzoom": vectortile.DeepestZoom, "fields": fields})
	}
	s.Responder.JSON(w, r, document.JSON, map[string]any{
		"tilejson": "3.0.0", "scheme": "xyz", "name": id, "vector_layers": layers,
		"tiles":   []string{document.Origin(r) + set.tilesPath(id)},
		"minzoom": 0, "maxzoom": vectortile.DeepestZoom, "exact_zoom": vectortile.ExactZoom, "tile_size": vectortile.TileSize,
		"bounds":   []float64{c.Box.West, c.Box.South, c.Box.East, c.Box.North},
		"features": c.Features, "not_drawn": c.NotDrawn, "points": c.Points, "levels": append([]string{}, c.Levels...),
	})
}

func (s *Server) tile(w http.ResponseWriter, r *http.Request, set *Set, l *largeOverlay) {
	t, ok := tile.Parse(r.PathValue("z"), r.PathValue("x"), r.PathValue("file"))
	if !ok || t.Z > vectortile.DeepestZoom {
		want := fmt.Sprintf("no such tile: want tiles/ZOOM/COLUMN/ROW.mvt, zooms to %d", vectortile.DeepestZoom)
		http.Error(w, want, http.StatusNotFound)
		return
	}
	x := s.indexOf(w, r, l)
	if x == nil {
		return
	}
	done, ok := s.Limiter.Acquire(r.Context(), auth.PhoneOf(r))
	if !ok {
		document.Unavailable(w, "too many tiles are being cut for this phone: try again in a moment")
		return
	}
	a, err := l.cut.Make(t, func() (document.Asset, error) {
		s.Cutting <- struct{}{}
		defer func() { <-s.Cutting }()
		body, err := x.Tile(t)
		return document.NewAsset(vectortile.MediaType, body), err
	})
	done()
	switch {
	case err != nil:
		s.Responder.Fail(w, r, err)
	case a.Empty():
		w.WriteHeader(http.StatusNoContent)
	default:
		if r.URL.Query().Get("v") == set.Version { // the address changes with the pack
			a.CacheControl = tile.CacheControl
		}
		a.ServeHTTP(w, r)
	}
}

// record gives a feature by the number that tiles carry, as it was packed.
func (s *Server) record(w http.ResponseWriter, r *http.Request, _ *Set, l *largeOverlay) {
	n, err := strconv.ParseUint(r.PathValue("n"), 10, 31)
	if err != nil {
		http.Error(w, "want features/NUMBER, counted from 0", http.StatusNotFound)
		return
	}
	x := s.indexOf(w, r, l)
	if x == nil {
		return
	}
	feature, err := x.Record(int(n))
	switch {
	case err != nil:
		s.Responder.Fail(w, r, err)
	case feature == nil:
		http.Error(w, "there is no such feature in this overlay", http.StatusNotFound)
	default:
		document.NewAsset(document.GeoJSON, feature).ServeHTTP(w, r)
	}
}

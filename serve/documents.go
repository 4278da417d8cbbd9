package serve

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"strings"
	"time"

	"groundsheet/pack"
)

// list names the packs of this server.
func (s *Server) list(w http.ResponseWriter, r *http.Request) {
	type entry struct {
		ID    string `json:"id"`
		Name  string `json:"name"`
		About string `json:"about"`
	}
	all := []entry{}
	for _, p := range s.packs {
		all = append(all, entry{p.id, p.pack.Info.Name, p.path("about.json")})
	}
	s.json(w, r, map[string]any{"packs": all})
}

func (p *site) path(rest string) string { return "/packs/" + p.id + "/" + rest }

// about is what the page shows of a pack besides the map.
func (s *Server) about(w http.ResponseWriter, r *http.Request, p *site) {
	info := p.pack.Info
	expected := info.About.ExpectedMissing
	if expected == nil {
		expected = []string{}
	}
	type document struct {
		pack.About
		ID              string   `json:"id"`
		TileJSON        string   `json:"tilejson"`
		Area            string   `json:"area"`
		Overlays        string   `json:"overlays"`
		Deepest         int      `json:"deepest_zoom"`
		Shallowest      int      `json:"shallowest_zoom"`
		Cautions        []string `json:"cautions"`
		ExpectedMissing []string `json:"expected_missing"`
	}
	s.json(w, r, document{
		About: info.About, ID: p.id, TileJSON: p.path("tilejson.json"), Area: p.path("area.geojson"), Overlays: p.path("overlays.json"),
		Deepest: info.Zooms.Max, Shallowest: info.Zooms.Min, Cautions: pack.Cautions(info.About), ExpectedMissing: expected,
	})
}

// tileJSON describes the tiles (TileJSON 3.0.0). Addresses are absolute, so
// they are made from the host the phone used.
func (s *Server) tileJSON(w http.ResponseWriter, r *http.Request, p *site) {
	info := p.pack.Info
	lon, lat := info.Bounds.Center()
	s.json(w, r, map[string]any{
		"tilejson":      "3.0.0",
		"tiles":         []string{"http://" + r.Host + p.path("tiles/{z}/{x}/{y}."+info.Format)},
		"vector_layers": []any{}, // the text asks it of vector tiles only, the schema of all
		"name":          info.Name,
		"description":   info.Description,
		"attribution":   html.EscapeString(info.About.Source.Attribution),
		"scheme":        "xyz",
		"minzoom":       info.Zooms.Min,
		"maxzoom":       info.Zooms.Max,
		"bounds":        []float64{info.Bounds.West, info.Bounds.South, info.Bounds.East, info.Bounds.North},
		"center":        []any{lon, lat, info.Zooms.Max},
	})
}

func (s *Server) area(w http.ResponseWriter, r *http.Request, p *site) {
	body := p.pack.Info.Area
	if body == nil {
		body = []byte(`{"type":"FeatureCollection","features":[]}`)
	}
	s.send(w, r, "application/geo+json", body)
}

func (s *Server) overlays(w http.ResponseWriter, r *http.Request, p *site) {
	type entry struct {
		pack.Summary
		URL string `json:"url"`
	}
	all := []entry{}
	for _, o := range p.pack.Info.Overlays {
		all = append(all, entry{o, p.path("overlays/" + o.ID + ".geojson")})
	}
	s.json(w, r, map[string]any{"overlays": all})
}

func (s *Server) overlay(w http.ResponseWriter, r *http.Request, p *site) {
	id, ok := strings.CutSuffix(r.PathValue("file"), ".geojson")
	if !ok {
		http.NotFound(w, r)
		return
	}
	body, err := p.pack.Overlay(r.Context(), id)
	switch {
	case err != nil:
		s.fail(w, r, err)
	case body == nil:
		http.Error(w, "there is no such overlay in this pack", http.StatusNotFound)
	default:
		s.send(w, r, "application/geo+json", body)
	}
}

func (s *Server) json(w http.ResponseWriter, r *http.Request, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.send(w, r, "application/json", body)
}

// send answers with a document, compressed where that pays, under a strong
// ETag of its content.
func (s *Server) send(w http.ResponseWriter, r *http.Request, media string, body []byte) {
	h := w.Header()
	h.Set("Content-Type", media)
	h.Set("Cache-Control", "no-cache")
	h.Set("Vary", "Accept-Encoding")
	sum := sha256.Sum256(body)
	tag := fmt.Sprintf("%x", sum[:12])
	if len(body) > 1024 && acceptsGzip(r) {
		h.Set("Content-Encoding", "gzip")
		tag += "-gzip"
		body = zip(body)
	}
	h.Set("ETag", `"`+tag+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(body))
}

func acceptsGzip(r *http.Request) bool {
	for part := range strings.SplitSeq(r.Header.Get("Accept-Encoding"), ",") {
		name, q, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.EqualFold(strings.TrimSpace(name), "gzip") && strings.ReplaceAll(q, " ", "") != "q=0" {
			return true
		}
	}
	return false
}

func zip(body []byte) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = z.Write(body) // a bytes.Buffer never fails
	_ = z.Close()
	return b.Bytes()
}

// fail answers for something that went wrong here; the phone learns no paths.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // the phone went away
	}
	s.log.Error("request failed", "path", r.URL.Path, "err", err)
	http.Error(w, "the pack cannot be read: run groundsheet check on it", http.StatusInternalServerError)
}

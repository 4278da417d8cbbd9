package serve

import (
	"cmp"
	"context"
	"encoding/json"
	"html"
	"net/http"
	"slices"
	"strings"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
)

// list names the packs of this server as people look for them: by name, of one
// name the newest packed first.
func (s *Server) list(w http.ResponseWriter, r *http.Request) {
	type entry struct {
		ID      string    `json:"id"`
		Name    string    `json:"name"`
		Number  string    `json:"number"`
		Source  string    `json:"source"`
		Deepest int       `json:"deepest_zoom"`
		Packed  time.Time `json:"packed"`
		About   string    `json:"about"`
		Version string    `json:"version"`
		Verdict Verdict   `json:"verdict"`
	}
	all := []entry{}
	for _, p := range s.racks.served() {
		i := p.pack.Info
		all = append(all, entry{p.id, i.Name, i.About.Number, i.About.Source.Name, i.Zooms.Max, i.About.Packed, p.path("about.json"), p.tag, p.told()})
	}
	slices.SortStableFunc(all, func(a, b entry) int {
		return cmp.Or(strings.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)), b.Packed.Compare(a.Packed),
			strings.Compare(a.Number, b.Number), strings.Compare(a.Source, b.Source))
	})
	s.json(w, r, map[string]any{"packs": all})
}

func (p *site) path(rest string) string { return "/packs/" + p.id + "/" + rest }

// documents lists what a pack has besides tiles. None of it but the verdict
// changes while the pack is open, so each is read, hashed and compressed once.
func (p *site) documents() {
	p.docs = map[string]func() (asset, error){}
	add := func(name, media string, body func() ([]byte, error)) { p.docs[name] = onceRead(media, body) }
	p.docs["about.json"] = p.aboutNow()
	add("overlays.json", mediaJSON, func() ([]byte, error) { return json.Marshal(p.overlays()) })
	add("area.geojson", mediaGeoJSON, func() ([]byte, error) {
		if p.pack.Info.Area == nil {
			return []byte(`{"type":"FeatureCollection","features":[]}`), nil
		}
		return sound(p.pack.Info.Area)
	})
	add(knownPath, mediaGeoJSON, func() ([]byte, error) {
		if !p.pack.Info.Derived {
			return []byte(`{"type":"FeatureCollection","features":[]}`), nil
		}
		return soundly(p.read(p.pack.DerivedFeatures))
	})
	for _, o := range p.pack.Info.Overlays {
		add(overlayPath(o.ID), mediaGeoJSON, func() ([]byte, error) {
			return soundly(p.read(func(ctx context.Context) ([]byte, error) { return p.pack.Overlay(ctx, o.ID) }))
		})
	}
}

// aboutNow is the one document that changes: it holds the verdict, which comes
// once.
func (p *site) aboutNow() func() (asset, error) {
	body := func() ([]byte, error) { return json.Marshal(p.about()) }
	before, after := onceRead(mediaJSON, body), onceRead(mediaJSON, body)
	return func() (asset, error) {
		if p.verdict.Load() == nil {
			return before()
		}
		return after()
	}
}

const (
	mediaJSON    = "application/json"
	mediaGeoJSON = "application/geo+json"
)

// knownPath is what was worked out of the records: zones, crossings, entries.
const knownPath = "known.geojson"

func overlayPath(id string) string { return "overlays/" + id + ".geojson" }

func (s *Server) document(w http.ResponseWriter, r *http.Request, p *site) {
	doc, ok := p.docs[r.PathValue("doc")]
	if !ok {
		http.Error(w, "there is no such document in this pack", http.StatusNotFound)
		return
	}
	a, err := doc()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	if a.length > 0 {
		s.servePressed(w, r, a)
		return
	}
	a.serve(w, r)
}

// aboutDocument is what the page shows of a pack besides the map.
type aboutDocument struct {
	pack.About
	ID              string      `json:"id"`
	TileJSON        string      `json:"tilejson"`
	Area            string      `json:"area"`
	Overlays        string      `json:"overlays"`
	Known           string      `json:"known"` // "" when the pack does not tell
	KnownLarge      *knownLarge `json:"known_large,omitempty"`
	Deepest         int         `json:"deepest_zoom"`
	Shallowest      int         `json:"shallowest_zoom"`
	Cautions        []string    `json:"cautions"`
	ExpectedMissing []string    `json:"expected_missing"`
	Verdict         Verdict     `json:"verdict"`
	Seal            string      `json:"seal"` // the beginning of it, as people compare it; "" for a pack without
}

func (p *site) about() aboutDocument {
	info := p.pack.Info
	d := aboutDocument{
		About: info.About, ID: p.id, TileJSON: p.path("tilejson.json"), Area: p.path("area.geojson"), Overlays: p.path("overlays.json"),
		Deepest: info.Zooms.Max, Shallowest: info.Zooms.Min, Cautions: pack.Cautions(info.About), ExpectedMissing: info.About.ExpectedMissing, Verdict: p.told(), Seal: info.Seals.Name(),
	}
	if info.Derived {
		d.Known, d.KnownLarge = p.path(knownPath), p.knownLarge()
	}
	if d.ExpectedMissing == nil {
		d.ExpectedMissing = []string{}
	}
	return d
}

func (p *site) overlays() map[string]any {
	type entry struct {
		pack.Summary
		URL      string `json:"url"`
		TileJSON string `json:"tilejson,omitempty"` // of vector tiles, when the overlay is large
		Near     string `json:"near,omitempty"`     // where its records are asked for by place, then
	}
	all := []entry{}
	for _, o := range p.pack.Info.Overlays {
		e := entry{Summary: o, URL: p.path(overlayPath(o.ID))}
		if p.large[o.ID] != nil {
			e.TileJSON, e.Near = p.path(largePath(o.ID, "tilejson.json")), p.path(largePath(o.ID, "features?"+p.query))
		}
		all = append(all, e)
	}
	return map[string]any{"overlays": all, "styles": styles(p.pack.Info.Overlays), "states": record.StateSymbologies()}
}

// styles are the looks of the utilities in a pack, by utility and quality
// level; "" stands for every level but A to D.
func styles(overlays []pack.Summary) map[string]map[string]record.Symbology {
	all := map[string]map[string]record.Symbology{}
	for _, o := range overlays {
		all[o.Utility] = map[string]record.Symbology{}
		for _, level := range []string{"", "A", "B", "C", "D"} {
			all[o.Utility][level] = record.SymbologyOf(o.Utility, level)
		}
	}
	return all
}

// tileJSON describes the tiles (TileJSON 3.0.0). Addresses are absolute, so
// they are made from the host the phone used, and they name the version of the
// pack, so that a phone never mixes two.
func (s *Server) tileJSON(w http.ResponseWriter, r *http.Request, p *site) {
	info := p.pack.Info
	lon, lat := info.Bounds.Center()
	s.json(w, r, map[string]any{
		"tilejson":      "3.0.0",
		"tiles":         []string{originOf(r) + p.path("tiles/{z}/{x}/{y}."+info.Format+"?v="+p.tag)},
		"vector_layers": []any{}, // the text asks it of vector tiles only, the schema of all
		"name":          info.Name,
		"description":   info.Description,
		"attribution":   html.EscapeString(info.About.Source.Attribution),
		"scheme":        "xyz",
		"minzoom":       info.Zooms.Min,
		"maxzoom":       info.Zooms.Max,
		"shrunk_zoom":   p.shallow, // our own: from here to minzoom tiles are shrunk from those
		"bounds":        []float64{info.Bounds.West, info.Bounds.South, info.Bounds.East, info.Bounds.North},
		"center":        []any{lon, lat, info.Zooms.Max},
	})
}

func (s *Server) json(w http.ResponseWriter, r *http.Request, v any) { s.jsonAs(w, r, mediaJSON, v) }

func (s *Server) jsonAs(w http.ResponseWriter, r *http.Request, media string, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	newAsset(media, body).serve(w, r)
}

// fail answers for something that went wrong here; the phone learns no paths,
// and keeps nothing of it.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	if r.Context().Err() != nil {
		return // the phone went away
	}
	s.watch.failed.Add(1)
	s.log.Error("request failed", "path", r.URL.Path, "err", err)
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, "the pack cannot be read: run groundsheet check on it", http.StatusInternalServerError)
}

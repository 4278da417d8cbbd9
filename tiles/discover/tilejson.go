package discover

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

// tileJSON is a TileJSON document, version 3.0.0 or an older one.
type tileJSON struct {
	version, name, attribution, scheme string
	tiles                              []string
	zooms                              tiles.Zooms
	bounds                             *tiles.Box
	layers                             []VectorLayer // of vector tiles
}

// VectorLayer is a row of vector_layers (TileJSON 3.0.0, 3.3).
type VectorLayer struct {
	ID     string            `json:"id"`
	Fields map[string]string `json:"fields"`
}

// parseTileJSON reads a document by the rules of TileJSON 3.0.0: an invalid
// value of a required key refuses it, one of another key counts as absent.
func parseTileJSON(data []byte) (tileJSON, error) {
	raw := map[string]json.RawMessage{}
	if err := json.Unmarshal(data, &raw); err != nil {
		return tileJSON{}, fmt.Errorf("it is not a JSON object: %v", plainJSON(err))
	}
	var t tileJSON
	if json.Unmarshal(raw["tilejson"], &t.version) != nil ||
		!slices.Contains([]string{"1", "2", "3"}, strings.Split(t.version, ".")[0]) {
		return t, fmt.Errorf("it has no tilejson version that is known (1 to 3)")
	}
	if json.Unmarshal(raw["tiles"], &t.tiles) != nil || len(t.tiles) == 0 || slices.Contains(t.tiles, "") {
		return t, fmt.Errorf("it names no tiles")
	}
	t.name, t.attribution, t.scheme = optional(raw["name"], ""), optional(raw["attribution"], ""),
		optional(raw["scheme"], "xyz")
	low, high := optional(raw["minzoom"], 0), optional(raw["maxzoom"], 30)
	if low < 0 || high > 30 || low > high {
		low, high = 0, 30
	}
	t.zooms = tiles.Zooms{Min: low, Max: min(high, tiles.MaxZoom)}
	t.bounds = box(optional(raw["bounds"], []float64(nil))...)
	t.layers = optional(raw["vector_layers"], []VectorLayer(nil))
	return t, nil
}

// optional is a value of the right type, else the fallback.
func optional[T any](raw json.RawMessage, fallback T) T {
	v := fallback
	if raw == nil || json.Unmarshal(raw, &v) != nil {
		return fallback
	}
	return v
}

// box is west, south, east, north in degrees; nil if it is not a box.
func box(v ...float64) *tiles.Box {
	if len(v) != 4 {
		return nil
	}
	b := tiles.Box{West: v[0], South: v[1], East: v[2], North: v[3]}
	if !b.Valid() {
		return nil
	}
	return &b
}

func plainJSON(err error) string { return oneLine(strings.TrimPrefix(err.Error(), "json: "), 120) }

func (t tileJSON) fit(src source.Source, at *url.URL) (source.Source, error) {
	switch {
	case len(t.layers) > 0 && !src.Vector():
		return src, unfit(`state format = "pbf", and with [[NAME.draw]] tables as what its layers are drawn`,
			"its tiles are vector tiles, which are lines and words to be drawn")
	case len(t.layers) == 0 && src.Vector():
		return src, unfit("take format and the draw tables out", "its document names no layers of vector tiles")
	}
	for _, d := range src.Draw {
		for _, name := range d.Layers {
			if !slices.ContainsFunc(t.layers, func(l VectorLayer) bool { return l.ID == name }) {
				return src, unfit("fix layer in the draw tables: its document has "+layerNames(t.layers), "there is no layer %q in its tiles", name)
			}
		}
	}
	if src.Zooms.Min < t.zooms.Min || src.Zooms.Max > t.zooms.Max {
		return src, unfit(fmt.Sprintf("set zooms within [%d, %d]", t.zooms.Min, t.zooms.Max),
			"zooms %d to %d are stated, and its document has %d to %d", src.Zooms.Min, src.Zooms.Max, t.zooms.Min, t.zooms.Max)
	}
	ours := map[string]string{"z": "{z}", "x": "{x}", "y": "{y}"}
	if t.scheme == "tms" {
		ours["y"] = "{-y}"
	}
	src.Templates = nil
	for _, template := range t.tiles {
		own, err := ourTemplate(src, at, template, ours, func(string) (string, bool) { return "", false })
		if err != nil {
			return src, err
		}
		src.Templates = append(src.Templates, own)
	}
	return src, nil
}

func (t tileJSON) offers(ctx context.Context, s *session, at *url.URL) ([]Offer, error) {
	src := s.src
	src.Kind, src.Bounds, src.Attribution = source.KindTileJSON, t.bounds, plainText(t.attribution)
	if src.Zooms == (tiles.Zooms{}) {
		src.Zooms = t.zooms
	}
	offer := Offer{Source: src, Title: oneLine(t.name, 200), Whole: true}
	if len(t.layers) > 0 {
		offer.asVector(t.layers)
		_, err := t.fit(offer.Source, at)
		return []Offer{offer}, err
	}
	ready, err := t.fit(src, at)
	if err != nil {
		return nil, err
	}
	return []Offer{s.sized(ctx, offer, ready)}, nil
}

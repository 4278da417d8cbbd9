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
	vector                             bool
}

// parseTileJSON reads a document as TileJSON 3.0.0 wants it: a wrong value of a
// key that is needed refuses it, one of another key counts as not there.
func parseTileJSON(data []byte) (tileJSON, error) {
	raw := map[string]json.RawMessage{}
	if err := json.Unmarshal(data, &raw); err != nil {
		return tileJSON{}, fmt.Errorf("it is not a JSON object: %v", plainJSON(err))
	}
	var t tileJSON
	if json.Unmarshal(raw["tilejson"], &t.version) != nil || !slices.Contains([]string{"1", "2", "3"}, strings.Split(t.version, ".")[0]) {
		return t, fmt.Errorf("it has no tilejson version that is known (1 to 3)")
	}
	if json.Unmarshal(raw["tiles"], &t.tiles) != nil || len(t.tiles) == 0 || slices.Contains(t.tiles, "") {
		return t, fmt.Errorf("it names no tiles")
	}
	t.name, t.attribution, t.scheme = optional(raw["name"], ""), optional(raw["attribution"], ""), optional(raw["scheme"], "xyz")
	low, high := optional(raw["minzoom"], 0), optional(raw["maxzoom"], 30)
	if low < 0 || high > 30 || low > high {
		low, high = 0, 30
	}
	t.zooms = tiles.Zooms{Min: low, Max: min(high, tiles.MaxZoom)}
	t.bounds = box(optional(raw["bounds"], []float64(nil)))
	t.vector = len(optional(raw["vector_layers"], []any(nil))) > 0
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

// box is west, south, east, north in degrees; nil when it is no box.
func box(v []float64) *tiles.Box {
	if len(v) != 4 {
		return nil
	}
	b := tiles.Box{West: v[0], South: v[1], East: v[2], North: v[3]}
	if !(b.West >= -180 && b.West < b.East && b.East <= 180 && b.South >= -90 && b.South < b.North && b.North <= 90) {
		return nil
	}
	return &b
}

func plainJSON(err error) string { return plain(strings.TrimPrefix(err.Error(), "json: "), 120) }

func (a *asker) tileJSON(ctx context.Context) (source.Source, error) {
	doc, err := a.get(ctx, a.src.URL, acceptJSON)
	if err != nil {
		return a.src, err
	}
	t, err := parseTileJSON(doc.data)
	if err != nil {
		return a.src, a.failed(a.src.URL, "no TileJSON document", err, "give the address of a TileJSON document, or ask what it is with groundsheet source add")
	}
	return t.fit(a.src, doc.at)
}

// fit gives the source with the addresses of the document.
func (t tileJSON) fit(src source.Source, at *url.URL) (source.Source, error) {
	switch {
	case t.vector:
		return src, unfit("a base map needs pictures: give another document", "its tiles are vector tiles, which are lines and words to be drawn")
	case t.scheme != "xyz" && t.scheme != "tms":
		t.scheme = "xyz" // an invalid value counts as not there
	}
	if src.Zooms.Min < t.zooms.Min || src.Zooms.Max > t.zooms.Max {
		return src, unfit(fmt.Sprintf("set zooms within [%d, %d]", t.zooms.Min, t.zooms.Max),
			"zooms %d to %d are stated, and its document has %d to %d", src.Zooms.Min, src.Zooms.Max, t.zooms.Min, t.zooms.Max)
	}
	src.Templates = nil
	for _, template := range t.tiles {
		ours, err := t.template(src, at, template)
		if err != nil {
			return src, err
		}
		src.Templates = append(src.Templates, ours)
	}
	return src, nil
}

func (t tileJSON) template(src source.Source, at *url.URL, template string) (string, error) {
	row := "{y}"
	if t.scheme == "tms" {
		row = "{-y}"
	}
	seen := map[string]bool{}
	ours, err := translate(src.TakeKey(template), func(name string) (string, bool, error) {
		seen[name] = true
		switch name {
		case "z", "x":
			return "{" + name + "}", false, nil
		case "y":
			return row, false, nil
		}
		return "", false, unfit("write its address as kind xyz", "its address %s has {%s}, which TileJSON does not know", plain(template, 200), plain(name, 40))
	})
	if err != nil {
		return "", err
	}
	if !seen["z"] || !seen["x"] || !seen["y"] {
		return "", unfit("ask the provider", "its address %s lacks {z}, {x} or {y}", plain(template, 200))
	}
	return allowed(src, at, ours)
}

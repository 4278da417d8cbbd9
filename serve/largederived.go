package serve

import (
	"context"
	"encoding/json"
	"slices"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/serve/vectortile"
)

// What was worked out of very many readings is large too: its zones and
// crossings come as vector tiles, its entries, and lines beside one another, whole. These are their names in
// addresses, where records have their ids.
const (
	largeZones     = "zones"
	largeCrossings = "crossings"
	entriesPath    = "known/entries.geojson"
)

// largeKnown makes ready what was worked out of the records, if it is large.
func (p *site) largeKnown(ctx context.Context) {
	size, err := p.pack.DerivedSize(ctx)
	if err != nil || size < largeBytes || p.hasOverlay(largeZones) || p.hasOverlay(largeCrossings) {
		return // a record of that name, large or small, must not be taken for it
	}
	text := func() ([]byte, error) { return p.read(p.pack.DerivedFeatures) }
	part := func(names ...string) func(map[string]any) bool {
		return func(properties map[string]any) bool {
			for _, name := range names {
				if properties["part"] == name {
					return true
				}
			}
			return false
		}
	}
	// A zone may be drawn coarser by half a pixel: its own words are that it is for planning.
	p.large[largeZones] = newLarge(text, vectortile.Options{Carry: []string{"part", "line", "quality_level", record.StateProperty}, Only: part("zone", "uncertainty", "line"), Coarse: true})
	p.large[largeCrossings] = newLarge(text, vectortile.Options{Carry: []string{"part", "lines", "number", "separation_m"}, Only: part("crossing")})
	for _, name := range []string{largeZones, largeCrossings} {
		p.large[name].words = true
	}
	p.docs[knownPath] = pressed(text)
	p.docs[entriesPath] = onceRead(mediaGeoJSON, func() ([]byte, error) { return entries(text) })
}

func (p *site) hasOverlay(id string) bool {
	return slices.ContainsFunc(p.pack.Info.Overlays, func(o pack.Summary) bool { return o.ID == id })
}

// entries picks the entries out of what was worked out, and the lines beside one another.
func entries(text func() ([]byte, error)) ([]byte, error) {
	body, err := text()
	if err != nil {
		return nil, err
	}
	var all, picked struct {
		Type     string            `json:"type"`
		Features []json.RawMessage `json:"features"`
	}
	if err := json.Unmarshal(body, &all); err != nil {
		return nil, err
	}
	picked.Type, picked.Features = "FeatureCollection", []json.RawMessage{}
	for _, raw := range all.Features {
		var f struct{ Properties struct{ Part string } }
		if err := json.Unmarshal(raw, &f); err != nil {
			return nil, err
		}
		if f.Properties.Part == "entry" || f.Properties.Part == "beside" {
			picked.Features = append(picked.Features, raw)
		}
	}
	return json.Marshal(picked)
}

// withoutShape is a record without its geometry, which for a zone of a long
// line is a thousand times the rest.
func withoutShape(record []byte) ([]byte, error) {
	var f struct {
		Properties json.RawMessage `json:"properties"`
	}
	if err := json.Unmarshal(record, &f); err != nil {
		return nil, err
	}
	if f.Properties == nil {
		f.Properties = json.RawMessage("null")
	}
	return append(append([]byte(`{"type":"Feature","geometry":null,"properties":`), f.Properties...), '}'), nil
}

// knownLarge tells where the parts of what was worked out are asked for.
type knownLarge struct {
	Zones     largeAddress `json:"zones"`
	Crossings largeAddress `json:"crossings"`
	Entries   string       `json:"entries"`
}

type largeAddress struct {
	TileJSON string `json:"tilejson"`
	Near     string `json:"near"`
}

func (p *site) knownLarge() *knownLarge {
	if p.large[largeZones] == nil || !p.large[largeZones].words {
		return nil
	}
	at := func(id string) largeAddress {
		return largeAddress{p.path(largePath(id, "tilejson.json")), p.path(largePath(id, "features?"+p.query))}
	}
	return &knownLarge{at(largeZones), at(largeCrossings), p.path(entriesPath)}
}

package overlay

import (
	"context"
	"slices"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/serve/document"
	"groundsheet/serve/vectortile"
	"groundsheet/tiles/geojson"
)

// Addresses of what is derived of the records. When it is large, its zones and
// crossings are vector tiles under these names, where records have their IDs; entries,
// and lines beside one another, are a document.
const (
	derivedPath = "known.geojson"
	zonesID     = "zones"
	crossingsID = "crossings"
	entriesPath = "known/entries.geojson"
)

// addDerived adds what is derived of the records.
func (s *Set) addDerived(ctx context.Context, docs *document.Set, read func() ([]byte, error), large bool) {
	if !s.file.Info.Derived {
		docs.AddGeoJSON(derivedPath, func() ([]byte, error) { return []byte(document.NoFeatures), nil })
		return
	}
	docs.Known = s.Path(derivedPath)
	// An overlay of one of the names, large or small, must not be taken for it.
	taken := func(o pack.Summary) bool { return o.ID == zonesID || o.ID == crossingsID }
	if !large || slices.ContainsFunc(s.file.Info.Overlays, taken) {
		docs.AddGeoJSON(derivedPath, read)
		return
	}
	docs.AddLarge(derivedPath, read)
	docs.Add(entriesPath, document.GeoJSON, func() ([]byte, error) { return entries(read) })
	// A zone may be drawn coarser by half a pixel: its own words are that it is for planning.
	s.addLarge(ctx, zonesID, read, vectortile.Options{
		Carry: []string{"part", "line", "reach_m", "quality_level", record.StateProperty},
		Only:  partOf(zoneParts...), Coarse: true,
	}).derived = true
	docs.AddPart(s.part(zonesID, derivedPath, zoneParts...))
	s.addLarge(ctx, crossingsID, read, vectortile.Options{
		Carry: []string{"part", "lines", "number", "separation_m"}, Only: partOf(crossingParts...),
	}).derived = true
	docs.AddPart(s.part(crossingsID, derivedPath, crossingParts...))
	type address struct {
		TileJSON string `json:"tilejson"`
		Near     string `json:"near"`
	}
	at := func(id string) address { return address{s.tileJSONPath(id), s.searchPath(id)} }
	docs.KnownLarge = struct {
		Zones     address `json:"zones"`
		Crossings address `json:"crossings"`
		Entries   string  `json:"entries"`
	}{at(zonesID), at(crossingsID), s.Path(entriesPath)}
}

// The parts of what is derived that come in vector tiles.
var zoneParts, crossingParts = []string{"zone", "uncertainty", "line"}, []string{"crossing"}

func partOf(names ...string) func(map[string]any) bool {
	return func(properties map[string]any) bool {
		part, _ := properties["part"].(string)
		return slices.Contains(names, part)
	}
}

// entries picks the entries, and the lines beside one another.
func entries(read func() ([]byte, error)) ([]byte, error) {
	body, err := read()
	if err != nil {
		return nil, err
	}
	wanted := partOf("entry", "beside")
	return document.Filter(body, false, func(f geojson.Feature, _ error) bool { return wanted(f.Properties) })
}

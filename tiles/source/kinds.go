package source

import "slices"

// The kinds of source.
const (
	KindXYZ      = "xyz"       // a URL template, row 0 in the north
	KindTMS      = "tms"       // a URL template, row 0 in the south
	KindTileJSON = "tilejson"  // a TileJSON document names the template
	KindWMTS     = "wmts"      // OGC WMTS 1.0.0, REST or KVP
	KindWMS      = "wms"       // OGC WMS 1.3.0 or 1.1.1, one GetMap a tile or a block of tiles
	KindOGCTiles = "ogc-tiles" // OGC API – Tiles
	KindMBTiles  = "mbtiles"   // an MBTiles file on this machine
	KindFolder   = "folder"    // a folder of z/x/y files on this machine
	KindPractice = "practice"  // invented imagery drawn on this machine
)

// Kinds are all of them, in the order they are shown.
func Kinds() []string {
	return []string{KindXYZ, KindTMS, KindTileJSON, KindWMTS, KindWMS, KindOGCTiles, KindMBTiles, KindFolder, KindPractice}
}

// rules says what a kind can be told besides the keys that every kind has.
type rules struct {
	document bool     // url is a service or its document, not a template
	keys     []string // of those that not every kind takes
	needs    []string
}

func rulesOf(kind string) rules {
	asked := []string{"url", "key_env", "redirect_hosts"}
	with := func(keys ...string) []string { return append(slices.Clone(asked), keys...) }
	switch kind {
	case KindXYZ, KindTMS:
		return rules{keys: with("subdomains"), needs: []string{"url"}}
	case KindTileJSON:
		return rules{document: true, keys: asked, needs: []string{"url"}}
	case KindWMTS:
		return rules{document: true, keys: with("layer", "style", "format", "matrix_set"), needs: []string{"url"}}
	case KindWMS:
		return rules{document: true, keys: with("layer", "style", "format", "version", "crs", "metatile"), needs: []string{"url", "layer"}}
	case KindOGCTiles:
		return rules{document: true, keys: with("layer", "format", "matrix_set"), needs: []string{"url"}}
	case KindMBTiles, KindFolder:
		return rules{keys: []string{"file"}, needs: []string{"file"}}
	}
	return rules{keys: with("subdomains")}
}

// Local reports whether the tiles are read from this machine's disk: no server
// is asked, so no pace is needed.
func (s Source) Local() bool { return s.Kind == KindMBTiles || s.Kind == KindFolder }

// Asked reports whether a service's document has to be read before the address
// of a tile is known.
func (s Source) Asked() bool { return rulesOf(s.Kind).document }

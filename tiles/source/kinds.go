package source

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

// kindRule says what a kind can state besides the keys that every kind has.
type kindRule struct {
	document bool              // url is a service or its document, not a template
	keys     []string          // of those that not every kind takes
	needs    map[string]string // required keys, with what belongs there
}

const (
	exampleTemplate = "a template such as https://tiles.example/{z}/{x}/{y}.jpg"
	exampleTileJSON = "the address of the TileJSON document, such as https://maps.example/ortho.json"
	exampleWMTS     = "the address of the capabilities document, such as https://maps.example/wmts/WMTSCapabilities.xml, or of the service"
	exampleWMS      = "the address of the service, such as https://maps.example/wms"
	exampleLayer    = "which layer to draw; groundsheet source add lists them"
	exampleOGC      = "the address of the tileset, such as https://maps.example/map/tiles/WebMercatorQuad, or of the service"
	exampleMBTiles  = `the MBTiles file, such as "ortho.mbtiles"`
	exampleFolder   = `the path of a tile, such as "ortho/{z}/{x}/{y}.png"; {-y} when rows count from the south`
)

func ruleOf(kind string) kindRule {
	with := func(keys ...string) []string { return append([]string{"url", "key_env", "redirect_hosts"}, keys...) }
	url := func(example string) map[string]string { return map[string]string{"url": example} }
	switch kind {
	case KindXYZ, KindTMS:
		return kindRule{false, with("subdomains"), url(exampleTemplate)}
	case KindTileJSON:
		return kindRule{true, with(), url(exampleTileJSON)}
	case KindWMTS:
		return kindRule{true, with("layer", "style", "format", "matrix_set"), url(exampleWMTS)}
	case KindWMS:
		return kindRule{true, with("layer", "style", "format", "version", "crs", "metatile"), map[string]string{"url": exampleWMS, "layer": exampleLayer}}
	case KindOGCTiles:
		return kindRule{true, with("layer", "format", "matrix_set"), url(exampleOGC)}
	case KindMBTiles:
		return kindRule{false, []string{"file"}, map[string]string{"file": exampleMBTiles}}
	case KindFolder:
		return kindRule{false, []string{"file"}, map[string]string{"file": exampleFolder}}
	}
	return kindRule{keys: with("subdomains")}
}

// Local reports whether the tiles are read from this machine's disk: no server
// is asked, so no pace is needed.
func (s Source) Local() bool { return s.Kind == KindMBTiles || s.Kind == KindFolder }

// Asked reports whether a service's document has to be read before the address
// of a tile is known.
func (s Source) Asked() bool { return ruleOf(s.Kind).document }

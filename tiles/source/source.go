package source

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/measure"
)

// Source is one place to get base map tiles from, as the operator states it.
type Source struct {
	Name string `toml:"-"`    // letters, digits and dashes; the heading in sources.toml
	Kind string `toml:"kind"` // one of [Kinds]
	// URL is for xyz and tms a template with {z} {x} {y}, {-y}, {q}, {s}, {key};
	// for practice the same or ""; else the service or its document, perhaps
	// with {key}.
	URL string `toml:"url"`
	// mbtiles: the file; folder: path with {z} {x} {y} or {-y}, {q}; raster: a picture, a VRT or a folder of
	// pictures; absolute once read from a file
	File        string      `toml:"file"`
	KeyEnv      string      `toml:"key_env"`     // environment variable that holds the key for {key}; "" when none
	Subdomains  []string    `toml:"subdomains"`  // values of {s}, used in turn
	Zooms       tiles.Zooms `toml:"-"`           // the zooms the source has
	TileSize    int         `toml:"-"`           // side of a tile in pixels: 256 or 512
	Attribution string      `toml:"attribution"` // the credit to show beside the map; "" when not stated
	Captured    string      `toml:"-"`           // when the imagery was taken, as stated; "" when unknown
	Bounds      *tiles.Box  `toml:"-"`           // ground the source covers, in degrees; nil when not stated
	// GroundResolution is what one pixel of the original picture is on the
	// ground; 0 when not stated. Zooms beyond it only magnify.
	GroundResolution measure.Distance `toml:"-"`

	Layer     string `toml:"layer"`      // wmts: the layer; wms: one or several with commas; ogc-tiles: the collection
	Style     string `toml:"style"`      // wmts, wms; "" = the service's own default
	Format    string `toml:"format"`     // media type to ask for; "" = the first that can be used
	MatrixSet string `toml:"matrix_set"` // wmts, ogc-tiles: which tile matrix set; "" = the first that fits
	Version   string `toml:"version"`    // wms: "1.3.0" or "1.1.1"; "" = what the service prefers
	CRS       string `toml:"crs"`        // wms: the reference system to ask in; "" = EPSG:3857. raster: of files that state none
	Metatile  int    `toml:"metatile"`   // wms: tiles along a side of one picture, 1 2 4 8; 0 = 1

	// drawn: the files, and as what each is drawn; of vector tiles (see [Source.Vector])
	// the layers, likewise
	Draw []Draw `toml:"-"`

	Raster // raster: how the operator's own pictures are read

	RedirectHosts []string   `toml:"redirect_hosts"` // hosts that redirects and documents may lead to besides the own one
	Placeholders  [][32]byte `toml:"-"`              // SHA-256 of images that stand for "no imagery here"

	Resolved `toml:"-"`

	Terms *Terms `toml:"-"` // nil when the file has no terms block: packing is refused
}

// Resolved is what reading the service's document adds; all empty before.
type Resolved struct {
	Templates []string       // how a tile is asked for, chosen by column and row; empty = URL itself
	Matrix    map[int]string // the service's name of a zoom for {matrix}; nil = the number
	Limits    []tiles.Limit  // tiles the service says it has; zooms without an entry are whole
}

// Outside reports whether the service itself says that it has no such tile, so
// that it need not be asked.
func (r Resolved) Outside(t tiles.ID) bool {
	return slices.ContainsFunc(r.Limits, func(l tiles.Limit) bool { return l.Zoom == int(t.Z) && !l.Has(t) })
}

// template is what a tile's address is made from, "" when it is not known yet.
func (r Resolved) template(t tiles.ID) string {
	if len(r.Templates) == 0 {
		return ""
	}
	return r.Templates[(uint64(t.X)+uint64(t.Y))%uint64(len(r.Templates))]
}

// practice is the source that is known without any file.
func practice() Source {
	return Source{
		Name:        KindPractice,
		Kind:        KindPractice,
		Zooms:       tiles.Zooms{Min: 0, Max: 22},
		TileSize:    256,
		Attribution: "Practice imagery, invented; not a real place",
		Captured:    "invented",
		Terms:       practiceTerms(),
	}
}

// Fingerprint is 8 hex digits of what decides the image of a tile: kind, URL
// and tile size, and for services and files also layer, style, format, matrix
// set, reference system and path. The key is not part of it, nor is how many
// tiles one request brings. The address of a practice source changes with every
// run, so it is left out there.
func (s Source) Fingerprint() string {
	where := s.URL
	if s.Kind == KindPractice {
		where = ""
	}
	crs := s.CRS
	if s.Kind == KindWMS {
		crs = cmp.Or(crs, WebMercator)
	}
	text := s.Kind + "\x00" + where + "\x00" + strconv.Itoa(s.TileSize)
	if ruleOf(s.Kind).document || s.Local() || s.Vector() {
		text += "\x00" + strings.Join([]string{s.Layer, s.Style, s.Format, s.MatrixSet, crs, s.File}, "\x00")
	}
	if s.Kind == KindRaster {
		text += "\x00" + s.Raster.fingerprint()
	}
	if s.Kind == KindDrawn { // what is drawn of vector tiles changes no tile
		for _, d := range s.Draw {
			text += "\x00" + d.fingerprint()
		}
	}
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:4])
}

// StoreName is the name of the source's file in the office store. It changes
// with the fingerprint, so images of two addresses never mix under one name.
func (s Source) StoreName() string { return s.Name + "-" + s.Fingerprint() }

// Placeholder reports whether the operator says that an image of this SHA-256
// stands for "no imagery here".
func (s Source) Placeholder(hash [32]byte) bool { return slices.Contains(s.Placeholders, hash) }

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
	KindRaster   = "raster"    // the operator's own pictures: GeoTIFF, JPEG 2000 and others, warped to tiles
	KindDrawn    = "drawn"     // streets, parcels and other vectors of the operator, drawn by us
	KindPractice = "practice"  // invented imagery drawn on this machine
)

// Kinds are all of them, in the order they are shown.
func Kinds() []string {
	return []string{KindXYZ, KindTMS, KindTileJSON, KindWMTS, KindWMS, KindOGCTiles, KindMBTiles, KindFolder, KindRaster, KindDrawn, KindPractice}
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
	exampleDraw     = `a [[NAME.draw]] table for each file, with file = "streets.shp" and role = "street"`
)

func ruleOf(kind string) kindRule {
	with := func(keys ...string) []string { return append([]string{"url", "key_env", "redirect_hosts"}, keys...) }
	url := func(example string) map[string]string { return map[string]string{"url": example} }
	switch kind {
	case KindXYZ, KindTMS:
		return kindRule{false, with("subdomains", "format", "draw"), url(exampleTemplate)}
	case KindTileJSON:
		return kindRule{true, with("format", "draw"), url(exampleTileJSON)}
	case KindWMTS:
		return kindRule{true, with("layer", "style", "format", "matrix_set"), url(exampleWMTS)}
	case KindWMS:
		return kindRule{true, with("layer", "style", "format", "version", "crs", "metatile"),
			map[string]string{"url": exampleWMS, "layer": exampleLayer}}
	case KindOGCTiles:
		return kindRule{true, with("layer", "format", "matrix_set"), url(exampleOGC)}
	case KindMBTiles:
		return kindRule{false, []string{"file", "format", "draw"}, map[string]string{"file": exampleMBTiles}}
	case KindFolder:
		return kindRule{false, []string{"file", "format", "draw"}, map[string]string{"file": exampleFolder}}
	case KindRaster:
		return kindRule{true, with("file", "files", "crs", "format", "bands", "scale", "nodata", "background"), nil}
	case KindDrawn:
		return kindRule{false, []string{"draw"}, map[string]string{"draw": exampleDraw}}
	}
	return kindRule{keys: with("subdomains")}
}

// Local reports whether the tiles are read from this machine's disk: no server
// is asked, so no pace is needed.
func (s Source) Local() bool {
	return s.Kind == KindMBTiles || s.Kind == KindFolder || s.Kind == KindDrawn || s.Kind == KindRaster && s.URL == ""
}

// Asked reports whether a service's document, or the header of a picture, has to
// be read before the address of a tile is known.
func (s Source) Asked() bool { return ruleOf(s.Kind).document }

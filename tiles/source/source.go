package source

import (
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
	URL         string      `toml:"url"`
	File        string      `toml:"file"`        // mbtiles: the file; folder: path with {z} {x} {y} or {-y}, {q}; absolute once read from a file
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
	CRS       string `toml:"crs"`        // wms: the reference system to ask in; "" = EPSG:3857
	Metatile  int    `toml:"metatile"`   // wms: tiles along a side of one picture, 1 2 4 8; 0 = 1

	RedirectHosts []string   `toml:"redirect_hosts"` // hosts that redirects and documents may lead to besides the own one
	Placeholders  [][32]byte `toml:"-"`              // SHA-256 of images that stand for "no imagery here"

	// What reading the service's document adds; all empty before.
	Templates []string       `toml:"-"` // how a tile is asked for, chosen by column and row; empty = URL itself
	Matrix    map[int]string `toml:"-"` // the service's name of a zoom for {matrix}; nil = the number
	Limits    []tiles.Limit  `toml:"-"` // tiles the service says it has; zooms without an entry are whole

	Terms *Terms `toml:"-"` // nil when the file has no terms block: packing is refused
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
	text := s.Kind + "\x00" + where + "\x00" + strconv.Itoa(s.TileSize)
	if ruleOf(s.Kind).document || s.Local() {
		text += "\x00" + strings.Join([]string{s.Layer, s.Style, s.Format, s.MatrixSet, s.crs(), s.File}, "\x00")
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

package source_test

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
	"groundsheet/tiles/source"
)

// block is a source of a kind with only the lines given.
func block(kind string, lines ...string) string {
	return "[a]\nkind = \"" + kind + "\"\n" + strings.Join(lines, "\n") + "\n"
}

const (
	someZooms = `zooms = [12, 19]`
	service   = `url = "https://maps.example/service"`
	hash      = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08" // of "test"
)

func TestKindsRead(t *testing.T) {
	cases := map[string]struct {
		text string
		want func(s source.Source) bool
	}{
		"tilejson": {block("tilejson", `url = "https://t.example/{key}/a.json"`, `key_env = "K"`, someZooms, `redirect_hosts = ["cdn.example:8443"]`),
			func(s source.Source) bool { return s.Asked() && !s.Local() && s.RedirectHosts[0] == "cdn.example:8443" }},
		"wmts": {block("wmts", service, `layer = "ortho"`, `style = "default"`, `format = "image/jpeg"`, `matrix_set = "GoogleMapsCompatible"`, someZooms),
			func(s source.Source) bool {
				return s.Layer == "ortho" && s.Style == "default" && s.Format == "image/jpeg" && s.MatrixSet == "GoogleMapsCompatible"
			}},
		"wms": {block("wms", service, `layer = "a,b"`, `version = "1.1.1"`, `crs = "EPSG:900913"`, `metatile = 4`, someZooms),
			func(s source.Source) bool { return s.Version == "1.1.1" && s.CRS == "EPSG:900913" && s.Metatile == 4 }},
		"ogc-tiles": {block("ogc-tiles", service, `layer = "ortho"`, someZooms), func(s source.Source) bool { return s.Asked() }},
		"mbtiles":   {block("mbtiles", `file = "sub/a.mbtiles"`, someZooms), func(s source.Source) bool { return s.Local() && s.File == "sub/a.mbtiles" }},
		"folder":    {block("folder", `file = "../t/{z}/{x}/{-y}.png"`, someZooms), func(s source.Source) bool { return s.Local() }},
		"raster": {block("raster", `files = ["w.tif", "e.tif"]`, `bands = [4, 2, 1]`, `scale = [0, 4095.5]`, `nodata = 0`, `background = "#ff8000"`, `crs = "EPSG:2229"`, someZooms),
			func(s source.Source) bool {
				color, ok := s.BackgroundColor()
				first, n := s.Batch(tiles.ID{Z: 12, X: 13, Y: 21})
				return s.Local() && len(s.Files) == 2 && s.Bands[0] == 4 && s.Scale[1] == 4095.5 && *s.NoData == 0 && ok &&
					color == [3]uint8{255, 128, 0} && first == tiles.ID{Z: 12, X: 8, Y: 16} && n == 8
			}},
		"raster over http": {block("raster", `url = "https://t.example/{key}/a.tif"`, `key_env = "K"`, someZooms),
			func(s source.Source) bool { return !s.Local() && s.Asked() }},
		"placeholder": {block("xyz", `url = "https://t.example/{q}"`, someZooms, `placeholders = ["`+hash+`"]`),
			func(s source.Source) bool { return s.Placeholder(s.Placeholders[0]) && !s.Placeholder([32]byte{}) }},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			b, err := source.Read([]byte(c.text), "s.toml")
			if err != nil {
				t.Fatal(err)
			}
			s, err := b.Find("a")
			if err != nil || !c.want(s) {
				t.Errorf("%+v, %v", s, err)
			}
			if name != "placeholder" && s.Refusal() == nil {
				t.Error("allowed without terms")
			}
			if _, err := s.Address(tiles.ID{Z: 12}); name != "placeholder" && (err == nil || !strings.Contains(err.Error(), "no address yet")) {
				t.Errorf("an address before the service was asked: %v", err)
			}
		})
	}
}

func TestKindFaults(t *testing.T) {
	cases := map[string]struct {
		text string
		want string
	}{
		"wmts without url":          {block("wmts", someZooms), "url: is missing: the address of the capabilities document"},
		"wms without layer":         {block("wms", service, someZooms), "layer: is missing"},
		"wms without zooms":         {block("wms", service, `layer = "a"`), "zooms"},
		"mbtiles without file":      {block("mbtiles", someZooms), "file: is missing"},
		"mbtiles without zooms":     {block("mbtiles", `file = "a.mbtiles"`), "zooms"},
		"mbtiles with url":          {block("mbtiles", `file = "a.mbtiles"`, service, someZooms), "url: makes no sense for kind mbtiles"},
		"folder without row":        {block("folder", `file = "t/{z}/{x}.png"`, someZooms), "file: must have {z}"},
		"folder with a key":         {block("folder", `file = "t/{z}/{x}/{y}.png?{key}"`, someZooms), "{key} is not a known placeholder"},
		"folder that climbs":        {block("folder", `file = "t/{z}/../{x}/{y}.png"`, someZooms), "must not have .."},
		"folder not closed":         {block("folder", `file = "t/{z}/{x}/{y"`, someZooms), "not closed"},
		"xyz with layer":            {block("xyz", `url = "https://t.example/{q}"`, `layer = "a"`, someZooms), "layer: makes no sense for kind xyz"},
		"xyz with file":             {block("xyz", `url = "https://t.example/{q}"`, `file = "a"`, someZooms), "file: makes no sense"},
		"tilejson with style":       {block("tilejson", service, `style = "a"`, someZooms), "style: makes no sense for kind tilejson"},
		"tilejson with a template":  {block("tilejson", `url = "https://t.example/{z}/{x}/{y}.png"`, someZooms), "{z} has no place"},
		"wmts with subdomains":      {block("wmts", service, `subdomains = ["a"]`, someZooms), "subdomains: makes no sense"},
		"wmts with metatile":        {block("wmts", service, `metatile = 2`, someZooms), "metatile: makes no sense"},
		"ogc-tiles with version":    {block("ogc-tiles", service, `version = "1.3.0"`, someZooms), "version: makes no sense"},
		"key without env":           {block("wmts", `url = "https://maps.example/{key}/wmts"`, someZooms), "key_env"},
		"env without key":           {block("wmts", service, `key_env = "K"`, someZooms), "no {key}"},
		"key in host":               {block("wmts", `url = "https://{key}.example/wmts"`, `key_env = "K"`, someZooms), "host name"},
		"format":                    {block("wmts", service, `format = "application/x-protobuf"`, someZooms), "format"},
		"version":                   {block("wms", service, `layer = "a"`, `version = "1.0.0"`, someZooms), `"1.3.0" or "1.1.1"`},
		"metatile":                  {block("wms", service, `layer = "a"`, `metatile = 3`, someZooms), "1, 2, 4 or 8"},
		"crs":                       {block("wms", service, `layer = "a"`, `crs = "EPSG:2056"`, someZooms), "EPSG:3857"},
		"CRS:84 in 1.1.1":           {block("wms", service, `layer = "a"`, `crs = "CRS:84"`, `version = "1.1.1"`, someZooms), "EPSG:4326"},
		"degrees too shallow":       {block("wms", service, `layer = "a"`, `crs = "EPSG:4326"`, `zooms = [11, 19]`), "from 12 on"},
		"degrees with large blocks": {block("wms", service, `layer = "a"`, `crs = "EPSG:4326"`, `metatile = 8`, `zooms = [16, 19]`), "from 17 on"},
		"redirect host":             {block("wmts", service, `redirect_hosts = ["https://a.example/"]`, someZooms), "redirect_hosts"},
		"placeholder":               {block("xyz", `url = "https://t.example/{q}"`, `placeholders = ["abc"]`, someZooms), "SHA-256"},
		"layer two lines":           {block("wms", service, `layer = "a\nb"`, someZooms), "layer: must be one line"},
		"raster without file":       {block("raster", someZooms), "file: is missing: a picture"},
		"raster with two":           {block("raster", `file = "a.tif"`, `url = "https://t.example/a.tif"`, someZooms), "only one of"},
		"raster of a system file":   {block("raster", `file = "/vsicurl/http://t.example/a.tif"`, someZooms), "no file of this computer"},
		"raster with odd bands":     {block("raster", `file = "a.tif"`, `bands = [1, 2]`, someZooms), "bands: want one"},
		"raster with band 0":        {block("raster", `file = "a.tif"`, `bands = [0]`, someZooms), "they count from 1"},
		"raster with half a scale":  {block("raster", `file = "a.tif"`, `scale = [5]`, someZooms), "scale: want"},
		"raster with a turned one":  {block("raster", `file = "a.tif"`, `scale = [5, 5]`, someZooms), "not below"},
		"raster with a color name":  {block("raster", `file = "a.tif"`, `background = "white"`, someZooms), "no color"},
		"raster with crs words":     {block("raster", `file = "a.tif"`, `crs = "+proj=utm"`, someZooms), "EPSG list"},
		"raster as webp":            {block("raster", `file = "a.tif"`, `format = "image/webp"`, someZooms), "loses nothing"},
		"raster with two lines":     {block("raster", `files = ["a\nb"]`, someZooms), "files: must be one line"},
		"practice with file":        {block("practice", `file = "x"`), "file: makes no sense"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			_, err := source.Read([]byte(c.text), "s.toml")
			var f *fault.Fault
			if !errors.As(err, &f) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want a Fault with %q", err, c.want)
			}
		})
	}
}

// TestFileIsFoundFromItsSourcesFile: a path goes with the file that names it.
func TestFileIsFoundFromItsSourcesFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "sources.toml")
	write(t, path, block("mbtiles", `file = "sub/a.mbtiles"`, someZooms))
	b, err := source.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if s, _ := b.Find("a"); s.File != filepath.Join(dir, "sub", "a.mbtiles") {
		t.Errorf("%s", s.File)
	}
}

// TestRefusedHosts: hosts whose policy forbids it, wherever they stand.
func TestRefusedHosts(t *testing.T) {
	terms := &source.Terms{Offline: source.OfflineAllowed}
	for name, s := range map[string]source.Source{
		"document": {Kind: "wmts", URL: "https://tile.openstreetmap.org/wmts", Terms: terms},
		"template": {Kind: "tilejson", URL: "https://t.example/a.json", Resolved: source.Resolved{Templates: []string{"https://t.example/{z}", "https://tile.openstreetmap.org/{z}/{x}/{y}.png"}}, Terms: terms},
		"redirect": {Kind: "xyz", URL: "https://t.example/{q}", RedirectHosts: []string{"tile.openstreetmap.org"}, Terms: terms},
	} {
		if err := s.Refusal(); !errors.Is(err, source.Refused) || !strings.Contains(err.Error(), "OSMF") {
			t.Errorf("%s: %v", name, err)
		}
		if s.Forbidden() == nil {
			t.Errorf("%s is not forbidden", name)
		}
	}
}

// TestFingerprintOfKinds: what decides the image changes the name of the shelf,
// and nothing else does.
func TestFingerprintOfKinds(t *testing.T) {
	// Shelves of offices that are in use carry these names.
	for want, s := range map[string]source.Source{
		"5d3680e0": {Kind: "xyz", URL: "https://t.example/{z}/{x}/{y}.png", TileSize: 256},
		"cafa0070": {Kind: "tms", URL: "https://t.example/{z}/{x}/{y}.png", TileSize: 512},
		"eccb04ce": {Kind: "practice", URL: "http://127.0.0.1:1/", TileSize: 256},
	} {
		if got := s.Fingerprint(); got != want {
			t.Errorf("kind %s: %s, was %s", s.Kind, got, want)
		}
	}
	base := source.Source{Kind: "wms", URL: "https://t.example/wms", TileSize: 256, Layer: "a"}
	for name, change := range map[string]func(*source.Source){
		"layer": func(s *source.Source) { s.Layer = "b" }, "style": func(s *source.Source) { s.Style = "b" },
		"format": func(s *source.Source) { s.Format = "image/png" }, "crs": func(s *source.Source) { s.CRS = "EPSG:4326" },
		"matrix set": func(s *source.Source) { s.MatrixSet = "b" }, "file": func(s *source.Source) { s.File = "b" },
	} {
		other := base
		if change(&other); other.Fingerprint() == base.Fingerprint() {
			t.Errorf("another %s kept the fingerprint", name)
		}
	}
	same := base
	same.Metatile, same.CRS, same.Version = 8, "EPSG:3857", "1.1.1"
	same.Templates, same.Matrix, same.Limits = []string{"x"}, map[int]string{1: "a"}, []tiles.Limit{{}}
	if same.Fingerprint() != base.Fingerprint() {
		t.Error("the way of asking changed the fingerprint")
	}
}

package imagery

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/gdal"
)

// described is what gdalinfo prints of a picture.
type described struct {
	Driver    string    `json:"driverShortName"`
	Files     []string  `json:"files"`
	Size      [2]int    `json:"size"`
	Transform []float64 `json:"geoTransform"`
	System    struct {
		WKT string `json:"wkt"`
	} `json:"coordinateSystem"`
	Metadata map[string]json.RawMessage `json:"metadata"`
	Corners  map[string][2]float64      `json:"cornerCoordinates"`
	Extent   struct {
		Coordinates [][][2]float64 `json:"coordinates"`
	} `json:"wgs84Extent"`
	Bands []describedBand `json:"bands"`
}

type describedBand struct {
	Block     [2]int          `json:"block"`
	Type      string          `json:"type"`
	Color     string          `json:"colorInterpretation"`
	NoData    json.RawMessage `json:"noDataValue"`
	Overviews []struct {
		Size [2]int `json:"size"`
	} `json:"overviews"`
	Mask *struct {
		Flags []string `json:"flags"`
	} `json:"mask"`
	Table *struct {
		Entries [][]int `json:"entries"`
	} `json:"colorTable"`
	Minimum, Maximum, Mean, StdDev *float64 // with statistics
}

// picture is one file that was looked at.
type picture struct {
	path   string // what GDAL opens
	name   string // what the operator named
	stamp  stamp
	box    tiles.Box // its ground in degrees
	layout layout
	pixel  float64 // side on the ground in meters
	coarse float64 // how many times coarser its last overview is; 1 = it has none
	system string  // name of its coordinate system
	vrt    bool
	about  described
}

// stamp tells whether a file is still the one that was looked at.
type stamp struct {
	size     int64
	modified time.Time
}

func stampOf(path string) (stamp, error) {
	info, err := os.Stat(path)
	if err != nil {
		return stamp{}, err
	}
	return stamp{info.Size(), info.ModTime()}, nil
}

// layout is how the bands of a picture are to be read. Pictures of one layout are
// warped together.
type layout struct {
	kind    string // GDAL's name of the type of its values
	bands   int
	red     int // bands, from 0; of a gray picture all three are the same one
	green   int
	blue    int
	alpha   int // -1 = none
	hasMap  bool
	colors  [256][4]uint8 // of a palette
	nodata  string
	missing string // the system that was stated because the file has none; "" = its own
}

// most bytes of one block of pixels that GDAL has to hold at once.
const mostBlock = 128 << 20

// look asks gdalinfo about a picture and refuses what cannot be a source.
// statistics also asks for those of its values.
func (o *opening) look(ctx context.Context, p picture, statistics bool) (picture, error) {
	args := []string{"-json", "-nogcp", "-norat", "-mdd", "IMAGERY", "-mdd", "EXIF"}
	if statistics {
		args = append(args, "-approx_stats")
	}
	out, err := o.gdal.Run(ctx, gdal.Child{Program: "gdalinfo", Args: append(args, p.path), VRT: p.vrt, URL: o.address(p)})
	if ctx.Err() != nil {
		return p, ctx.Err()
	}
	if err != nil {
		return p, unusable(p.name, "it cannot be read: "+err.Error(), "look whether the file came whole, and whether it is a picture: GeoTIFF, JPEG 2000 …")
	}
	p.about = described{}
	if err := json.Unmarshal(notNumbers(out), &p.about); err != nil || len(p.about.Bands) == 0 {
		return p, unusable(p.name, "GDAL describes no picture in it", "name a picture: GeoTIFF, JPEG 2000 …")
	}
	return p, o.keepsToItself(p)
}

// notNumbers replaces the values that are no JSON, which some versions print.
func notNumbers(data []byte) []byte {
	text := string(data)
	for _, word := range []string{"nan", "-nan", "inf", "-inf", "NaN", "Infinity", "-Infinity"} {
		for _, end := range []string{",", "\n", " "} {
			text = strings.ReplaceAll(text, ":"+word+end, `:"`+word+`"`+end)
		}
	}
	return []byte(text)
}

// keepsToItself refuses a picture that names files in other folders: a GeoTIFF
// may name any file as its overview.
func (o *opening) keepsToItself(p picture) error {
	folder := filepath.Dir(p.path)
	for _, f := range p.about.Files {
		path := filepath.FromSlash(f)
		if real, err := filepath.EvalSymlinks(path); err == nil {
			path = real
		}
		if f == p.path || f == gdal.Curl(o.address(p)) || p.vrt || o.remote == nil && below(folder, path) {
			continue
		}
		return unusable(p.name, fmt.Sprintf("it leads to another file, %.200q", f), "make a plain copy of it: gdal_translate")
	}
	return nil
}

// valueBytes is how long values of a type are.
var valueBytes = map[string]int{"Byte": 1, "Int8": 1, "UInt16": 2, "Int16": 2, "UInt32": 4, "Int32": 4, "Float32": 4, "Float64": 8}

// layoutOf says which bands are shown, and how.
func (o *opening) layoutOf(p picture) (l layout, err error) {
	bands := p.about.Bands
	l = layout{kind: bands[0].Type, bands: len(bands), alpha: -1, nodata: string(bands[0].NoData)}
	refuse := func(why, remedy string) (layout, error) { return l, unusable(p.name, why, remedy) }
	length := valueBytes[l.kind]
	switch block := bands[0].Block; {
	case length == 0:
		return refuse(fmt.Sprintf("its values are of type %.40q, which is no picture", l.kind), "ask the provider for 8 or 16 bits")
	case l.bands > 16 || l.bands*length > 32:
		return refuse(fmt.Sprintf("it has %d bands", l.bands), "make a file of the three that are to be shown: gdal_translate -b 1 -b 2 -b 3")
	case block[0]*block[1]*length*l.bands > mostBlock:
		return refuse(fmt.Sprintf("its blocks of %d×%d pixels would have to be read whole", block[0], block[1]), "write it again in small ones: gdal_translate -co TILED=YES")
	}
	for _, b := range bands {
		if b.Type != l.kind {
			return refuse("its bands are of different types", "write it again with one: gdal_translate -ot")
		}
	}
	if t := bands[0].Table; t != nil && len(bands) == 1 && l.kind == "Byte" {
		l.hasMap = true
		for i, e := range t.Entries[:min(len(t.Entries), 256)] {
			for k, v := range e[:min(len(e), 4)] {
				l.colors[i][k] = uint8(min(max(v, 0), 255))
			}
		}
		return l, nil
	}
	if !o.choose(&l, bands) {
		return refuse("nothing says which of its bands are red, green and blue", "state them: bands = [1, 2, 3] in sources.toml")
	}
	if used := max(l.red, l.green, l.blue, l.alpha); used >= l.bands {
		return refuse(fmt.Sprintf("it has %d bands, and bands in sources.toml names %d", l.bands, used+1), "correct bands")
	}
	if l.kind != "Byte" && len(o.src.Scale) == 0 {
		return refuse("its values are of type "+l.kind+", so what becomes black and what white has to be stated",
			"state it: scale = [LOW, HIGH] in sources.toml; groundsheet source add proposes it from the file's own statistics")
	}
	return l, nil
}

// choose fills in the bands that are shown: the stated ones, those that the file
// names, or the first three of a file that names none.
func (o *opening) choose(l *layout, bands []describedBand) bool {
	if b := o.src.Bands; len(b) > 0 {
		l.red, l.green, l.blue = b[0]-1, b[min(1, len(b)-1)]-1, b[min(2, len(b)-1)]-1
		if len(b) == 4 {
			l.alpha = b[3] - 1
		}
		return true
	}
	at := func(color string) int {
		return slices.IndexFunc(bands, func(b describedBand) bool { return b.Color == color })
	}
	l.alpha = at("Alpha")
	named := func(color int) bool { return color >= 0 }
	switch r, g, b, gray := at("Red"), at("Green"), at("Blue"), at("Gray"); {
	case named(r) && named(g) && named(b):
		l.red, l.green, l.blue = r, g, b
	case len(bands) == 1 || named(gray) && (len(bands) == 2 && named(l.alpha)):
		l.red, l.green, l.blue = max(gray, 0), max(gray, 0), max(gray, 0)
	case len(bands) >= 3 && !slices.Contains([]int{0, 1, 2}, l.alpha):
		l.red, l.green, l.blue = 0, 1, 2
	default:
		return false
	}
	return true
}

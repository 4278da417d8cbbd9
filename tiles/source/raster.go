package source

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"groundsheet/tiles"
	"groundsheet/tiles/fault"
)

// Raster is how the operator's own pictures are read: for [KindRaster] alone.
type Raster struct {
	// several pictures instead of one file, in order: where two overlap, the later
	// one is on top; absolute once read from a file
	Files []string `toml:"files"`
	// bands, from 1, that are red, green and blue, and perhaps transparency; or the
	// one that is gray. Empty = as the file says
	Bands []int `toml:"bands"`
	// the values that become black and white: two for all bands, or two for each.
	// Needed for pictures of more than 8 bits
	Scale      []float64 `toml:"scale"`
	NoData     *float64  `toml:"nodata"`     // value that means "no picture here"; nil = as the file says
	Background string    `toml:"background"` // "#rrggbb" where a tile has no picture; "" = transparent
}

// blockPixels is how many pixels along a side of a picture are warped at once.
const blockPixels = 2048

// Batch is the square of n×n tiles that are best asked for one after the other,
// because the source makes them together; 1 for sources that do not care.
func (s Source) Batch(t tiles.ID) (first tiles.ID, n int) {
	if s.Kind != KindRaster && s.Kind != KindDrawn {
		return t, 1
	}
	n = min(blockPixels/max(s.TileSize, 256), 1<<min(t.Z, 10))
	side := uint32(n)
	return tiles.ID{Z: t.Z, X: t.X / side * side, Y: t.Y / side * side}, n
}

// Pictures are the paths that are stated, one or several.
func (s Source) Pictures() []string {
	if s.File != "" {
		return []string{s.File}
	}
	return s.Files
}

// Paths are the files of this computer that are stated, of whatever kind.
func (s Source) Paths() []string {
	paths := s.Pictures()
	for _, d := range s.Draw {
		if d.File != "" && !slices.Contains(paths, d.File) {
			paths = append(paths, d.File)
		}
	}
	return paths
}

// BackgroundColor is the stated background as red, green and blue; ok is false
// when none is stated.
func (r Raster) BackgroundColor() (rgb [3]uint8, ok bool) {
	n, err := strconv.ParseUint(strings.TrimPrefix(r.Background, "#"), 16, 24)
	return [3]uint8{uint8(n >> 16), uint8(n >> 8), uint8(n)}, err == nil && r.Background != ""
}

// Empty reports whether nothing is stated.
func (r Raster) Empty() bool { return r.fingerprint() == Raster{}.fingerprint() }

func (r Raster) fingerprint() string {
	nodata := ""
	if r.NoData != nil {
		nodata = fmt.Sprint(*r.NoData)
	}
	return fmt.Sprintf("%q %v %v %s %s", r.Files, r.Bands, r.Scale, nodata, r.Background)
}

func (r Raster) cloned() Raster {
	r.Files, r.Bands, r.Scale = slices.Clone(r.Files), slices.Clone(r.Bands), slices.Clone(r.Scale)
	if r.NoData != nil {
		v := *r.NoData
		r.NoData = &v
	}
	return r
}

// text is what is stated, as lines of sources.toml.
func (r Raster) text() string {
	var b strings.Builder
	list := func(key string, n int, item func(int) string) {
		if n == 0 {
			return
		}
		var items []string
		for i := range n {
			items = append(items, item(i))
		}
		fmt.Fprintf(&b, "%s = [%s]\n", key, strings.Join(items, ", "))
	}
	number := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	list("files", len(r.Files), func(i int) string { return quoted(r.Files[i]) })
	list("bands", len(r.Bands), func(i int) string { return strconv.Itoa(r.Bands[i]) })
	list("scale", len(r.Scale), func(i int) string { return number(r.Scale[i]) })
	if r.NoData != nil {
		fmt.Fprintf(&b, "nodata = %s\n", number(*r.NoData))
	}
	if r.Background != "" {
		fmt.Fprintf(&b, "background = %s\n", quoted(r.Background))
	}
	return b.String()
}

const exampleRaster = `a picture or a folder of them, such as file = "ortho/2025.tif"; files = ["west.tif", "east.tif"]; or url = "https://maps.example/ortho.tif"`

// CheckRaster says what is wrong with what is stated of pictures, as reading the
// sources file does.
func (s Source) CheckRaster() error {
	c := checker{Source: s}
	c.checkRaster()
	var faults []error
	for _, p := range c.problems {
		faults = append(faults, &fault.Fault{Place: p.key, Detail: p.detail})
	}
	return errors.Join(faults...)
}

// checkRaster looks at what is stated of the operator's own pictures; whether
// they are there and can be read is seen when they are opened.
func (c *checker) checkRaster() {
	ways := 0
	for _, stated := range []bool{c.File != "", len(c.Files) > 0, c.URL != ""} {
		if stated {
			ways++
		}
	}
	c.unless(ways > 0, "file", "is missing: %s", exampleRaster)
	c.unless(ways < 2, "file", "only one of file, files and url can be: %s", exampleRaster)
	for _, f := range c.Pictures() {
		c.unless(f != "" && !strings.HasPrefix(f, "/vsi"), "file",
			"%q is no file of this computer: unpack or fetch it first, and name the picture itself", f)
	}
	c.unless(c.Format == "" || c.Format == "image/jpeg" || c.Format == "image/png", "format",
		`%q is not possible: "image/jpeg", which is small, or "image/png", which loses nothing`, c.Format)
	c.unless(c.CRS == "" || regexp.MustCompile(`^EPSG:[0-9]{4,6}$`).MatchString(c.CRS), "crs",
		`%q is not possible: a number of the EPSG list, such as "EPSG:2229"`, c.CRS)
	c.unless(len(c.Bands) == 0 || len(c.Bands) == 1 || len(c.Bands) == 3 || len(c.Bands) == 4, "bands",
		"want one (gray), three (red, green, blue) or four (with transparency), such as [1, 2, 3]")
	for _, b := range c.Bands {
		c.unless(b >= 1 && b <= 64, "bands", "%d is no band: they count from 1", b)
	}
	c.unless(len(c.Scale) == 0 || len(c.Scale) == 2 || len(c.Scale) == 6, "scale",
		"want the values that become black and white, such as [0, 4095], or two for each of red, green and blue")
	for i := 1; i < len(c.Scale); i += 2 {
		c.unless(c.Scale[i-1] < c.Scale[i] && !math.IsInf(c.Scale[i]-c.Scale[i-1], 0), "scale",
			"%v is not below %v: black comes first", c.Scale[i-1], c.Scale[i])
	}
	_, isColor := c.BackgroundColor()
	c.unless(c.Background == "" || isColor && len(c.Background) == 7 && c.Background[0] == '#', "background",
		`%q is no color: such as "#ffffff"`, c.Background)
}

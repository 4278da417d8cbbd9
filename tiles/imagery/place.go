package imagery

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"groundsheet/tiles"
	"groundsheet/tiles/gdal"
	"groundsheet/tiles/geodesic"
)

// place works out where a picture lies, how sharp it is, and how its bands are read.
func (o *opening) place(ctx context.Context, p picture) (picture, error) {
	d := p.about
	if len(d.Transform) != 6 || d.Size[0] < 1 || d.Size[1] < 1 {
		return p, unusable(p.name, "it does not say where on the ground it lies (no geographic transform)",
			"ask the provider for a file with its place, such as a GeoTIFF, or for its world file")
	}
	corners, err := o.corners(ctx, &p)
	if err != nil {
		return p, err
	}
	p.box = tiles.Box{West: 180, South: 90, East: -180, North: -90}
	for _, c := range corners {
		p.box = p.box.Join(tiles.Box{West: c[0], South: c[1], East: c[0], North: c[1]})
	}
	if !p.box.Valid() || math.Abs(p.box.South) > tiles.MaxLatitude && math.Abs(p.box.North) > tiles.MaxLatitude {
		return p, unusable(p.name, fmt.Sprintf("its place makes no sense: a corner would lie at longitude %.6g, latitude %.6g", corners[0][0], corners[0][1]),
			"look whether its coordinate system is the right one")
	}
	wide, high := geodesic.Distance(corners[0], corners[3]), geodesic.Distance(corners[0], corners[1])
	p.pixel = math.Sqrt(wide / float64(d.Size[0]) * high / float64(d.Size[1]))
	if p.pixel < 1e-4 || p.pixel > 1e5 {
		return p, unusable(p.name, fmt.Sprintf("its pixels would be %.3g m on the ground", p.pixel), "look whether its coordinate system and units are the right ones")
	}
	p.coarse = 1
	for _, v := range d.Bands[0].Overviews {
		p.coarse = max(p.coarse, float64(d.Size[0])/float64(max(v.Size[0], 1)))
	}
	missing := p.layout.missing
	p.layout, err = o.layoutOf(p)
	p.layout.missing = missing
	return p, err
}

// corners are the corners of a picture in degrees: upper left, lower left, lower
// right, upper right. The stated system counts where the file states none.
func (o *opening) corners(ctx context.Context, p *picture) (out []orb.Point, err error) {
	d := p.about
	p.system = systemName(d.System.WKT)
	ring := d.Extent.Coordinates
	switch {
	case len(ring) == 1 && len(ring[0]) >= 4:
		for _, c := range ring[0][:4] {
			out = append(out, c)
		}
		return out, nil
	case d.System.WKT != "":
		return nil, unusable(p.name, fmt.Sprintf("its coordinate system (%.80s) has no place on the earth that GDAL can work out", p.system),
			"ask the provider for one in a system of the EPSG list")
	case o.src.CRS == "":
		return nil, unusable(p.name, "it does not say which coordinate system it is in", `ask the provider, then state it: crs = "EPSG:…" in sources.toml`)
	}
	p.system, p.layout.missing = o.src.CRS+" (stated; the file names none)", o.src.CRS
	var input strings.Builder
	for _, name := range []string{"upperLeft", "lowerLeft", "lowerRight", "upperRight"} {
		fmt.Fprintf(&input, "%.12g %.12g\n", d.Corners[name][0], d.Corners[name][1])
	}
	said, err := o.gdal.Run(ctx, gdal.Child{Program: "gdaltransform", Input: input.String(), Args: []string{"-s_srs", o.src.CRS, "-t_srs", "EPSG:4326", "-output_xy"}})
	if err != nil {
		return nil, unusable(p.name, "its place cannot be worked out in "+o.src.CRS+": "+err.Error(), "correct crs in sources.toml")
	}
	fields := strings.Fields(string(said))
	if len(fields) != 8 {
		return nil, unusable(p.name, "its place cannot be worked out in "+o.src.CRS, "correct crs in sources.toml")
	}
	for i := 0; i < 8; i += 2 {
		// GDAL gives EPSG:4326 with x first when asked for x and y alone.
		x, errX := strconv.ParseFloat(fields[i], 64)
		y, errY := strconv.ParseFloat(fields[i+1], 64)
		if errX != nil || errY != nil {
			return nil, unusable(p.name, "its place cannot be worked out in "+o.src.CRS, "correct crs in sources.toml")
		}
		out = append(out, orb.Point{x, y})
	}
	return out, nil
}

// systemName is the name at the beginning of a WKT text: the first in quotes.
func systemName(wkt string) string {
	_, rest, _ := strings.Cut(wkt, `"`)
	name, _, _ := strings.Cut(rest, `"`)
	return name
}

package discover

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"groundsheet/tiles"
)

// matrix is one tile matrix as a document states it.
type matrix struct {
	name             string
	scale, left, top float64 // scale denominator with the pixel of 0.28 mm; corner in meters
	width, height    int     // of a tile, in pixels
	columns, rows    int64
}

// matrixLimit is the part of a matrix that a document says it has (in JSON: OGC
// 17-083r4, 7.3).
type matrixLimit struct {
	Name   string `json:"tileMatrix"`
	MinRow int64  `json:"minTileRow"`
	MaxRow int64  `json:"maxTileRow"`
	MinCol int64  `json:"minTileCol"`
	MaxCol int64  `json:"maxTileCol"`
}

// grid is what of a tile matrix set is Web Mercator.
type grid struct {
	names  map[int]string
	limits []tiles.Limit
	why    []string // of matrices that are not
}

// fit takes the matrices that are Web Mercator with tiles of size pixels, by
// their numbers.
func fit(matrices []matrix, limits []matrixLimit, size int) grid {
	g := grid{names: map[int]string{}}
	for _, m := range matrices {
		z, err := m.matchZoom(size)
		if err != nil {
			g.why = append(g.why, fmt.Sprintf("matrix %s: %v", quote(m.name), err))
			continue
		}
		if _, twice := g.names[z]; twice {
			continue
		}
		whole := tiles.Limit{Zoom: z, MaxRow: uint32(min(m.rows, 1<<z) - 1), MaxCol: uint32(min(m.columns, 1<<z) - 1)}
		cut, ok := whole, true
		if len(limits) > 0 { // what is not listed is not there (OGC 17-083r4, 6.3.2)
			cut, ok = narrow(whole, m.name, limits)
		}
		if !ok {
			continue
		}
		g.names[z] = m.name
		if cut != (tiles.Limit{Zoom: z, MaxRow: 1<<z - 1, MaxCol: 1<<z - 1}) {
			g.limits = append(g.limits, cut)
		}
	}
	return g
}

// narrow finds the limits of a matrix. One that reaches beyond the matrix is
// cut: an old text had them end one tile too late (OGC 11-037).
func narrow(whole tiles.Limit, name string, limits []matrixLimit) (tiles.Limit, bool) {
	i := slices.IndexFunc(limits, func(l matrixLimit) bool { return l.Name == name })
	if i < 0 {
		return whole, false
	}
	l := limits[i]
	if l.MinRow > l.MaxRow || l.MinCol > l.MaxCol || l.MaxRow < 0 || l.MaxCol < 0 || l.MinRow > int64(whole.MaxRow) ||
		l.MinCol > int64(whole.MaxCol) {
		return whole, false
	}
	return tiles.Limit{
		Zoom: whole.Zoom, MinRow: uint32(max(l.MinRow, 0)), MaxRow: uint32(min(l.MaxRow, int64(whole.MaxRow))),
		MinCol: uint32(max(l.MinCol, 0)), MaxCol: uint32(min(l.MaxCol, int64(whole.MaxCol))),
	}, true
}

// matchZoom is the matchZoom whose tiles the matrix has. Its numbers may differ from
// those of OGC 17-083r4, Annex D, by so much that no pixel of the world is off
// by more than half of its side.
func (m matrix) matchZoom(size int) (int, error) {
	if m.width != size || m.height != size {
		return 0, fmt.Errorf("its tiles have %d×%d pixels, not %d×%d", m.width, m.height, size, size)
	}
	world := tiles.ScaleDenominator(0) * 256 / float64(size)
	exact := math.Log2(world / m.scale)
	z := int(math.Round(min(max(exact, -1), 99)))
	if !(m.scale > 0) || z < 0 || z > tiles.MaxZoom || math.Abs(exact-float64(z)) > 0.01 {
		return 0, fmt.Errorf("its scale 1:%.10g is that of no zoom", m.scale)
	}
	pixels := math.Exp2(float64(z)) * float64(size) // along a side of the world
	cell := tiles.CellSize(0) * 256 / pixels
	half := math.Pi * tiles.EarthRadius
	shift := max(math.Abs(m.left+half), math.Abs(m.top-half)) / cell
	if math.IsNaN(shift) || shift+math.Abs(m.scale/(world/math.Exp2(float64(z)))-1)*pixels > 0.5 {
		return 0, fmt.Errorf("it does not begin at the corner of Web Mercator, or its scale 1:%.16g is not exact: pixels would be off", m.scale)
	}
	if m.columns < 1 || m.rows < 1 || m.columns > 1<<z || m.rows > 1<<z {
		return 0, fmt.Errorf("it has %d×%d tiles, and zoom %d has %d×%d", m.columns, m.rows, z, 1<<z, 1<<z)
	}
	return z, nil
}

// zooms is the deepest run of zooms without a gap.
func (g grid) zooms() (tiles.Zooms, bool) {
	all := slices.Sorted(maps.Keys(g.names))
	if len(all) == 0 {
		return tiles.Zooms{}, false
	}
	z := tiles.Zooms{Min: all[len(all)-1], Max: all[len(all)-1]}
	for slices.Contains(all, z.Min-1) {
		z.Min--
	}
	return z, true
}

// lacks says why the grid does not have all of the zooms; "" when it has.
func (g grid) lacks(z tiles.Zooms) string {
	for zoom := range z.All() {
		if _, ok := g.names[zoom]; ok {
			continue
		}
		words := "it has no zoom of Web Mercator"
		if has, ok := g.zooms(); ok {
			words = fmt.Sprintf("it has no zoom %d but zooms %d to %d", zoom, has.Min, has.Max)
		}
		if len(g.why) > 0 {
			words += "; " + strings.Join(g.why[:min(2, len(g.why))], "; ")
		}
		return words
	}
	return ""
}

// mercator reports whether a name of a reference system means EPSG:3857: as a
// URN, a URI or plain; 900913, 102100 and 102113 are its old names.
func mercator(crs string) bool {
	crs = strings.TrimSuffix(strings.ToUpper(strings.TrimSpace(crs)), "]")
	i := strings.LastIndexAny(crs, ":/")
	if i < 0 || !strings.Contains(crs, "EPSG") && !strings.Contains(crs, "ESRI") && !strings.Contains(crs, "OSGEO") {
		return false
	}
	return slices.Contains([]string{"3857", "900913", "102100", "102113"}, crs[i+1:])
}

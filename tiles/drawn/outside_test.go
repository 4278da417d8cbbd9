//go:build outside

package drawn_test

import (
	"bytes"
	"fmt"
	"image/color"
	"image/png"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/drawn"
	"groundsheet/tiles/source"
)

// burned has GDAL project a file to Web Mercator and burn its shapes into the pixels of
// a tile; true = burned.
func burned(t *testing.T, file string, id tiles.ID, side int) []bool {
	t.Helper()
	dir := t.TempDir()
	gpkg, bin := filepath.Join(dir, "m.gpkg"), filepath.Join(dir, "m.bin")
	run := func(name string, args ...string) {
		t.Helper()
		if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
			t.Fatalf("%s %v: %v: %s", name, args, err, out)
		}
	}
	half := math.Pi * 6378137
	size := 2 * half / math.Ldexp(1, int(id.Z))
	west, north := float64(id.X)*size-half, half-float64(id.Y)*size
	run("ogr2ogr", "-q", "-f", "GPKG", "-t_srs", "EPSG:3857", gpkg, file)
	num := func(v float64) string { return fmt.Sprintf("%.9f", v) }
	run("gdal_rasterize", "-q", "-at", "-burn", "1", "-ot", "Byte", "-of", "ENVI", "-te", num(west), num(north-size), num(west+size), num(north),
		"-ts", fmt.Sprint(side), fmt.Sprint(side), gpkg, bin)
	data, err := os.ReadFile(bin)
	if err != nil || len(data) != side*side {
		t.Fatal(err, len(data))
	}
	out := make([]bool, len(data))
	for i, v := range data {
		out[i] = v == 1
	}
	return out
}

// nearly reports whether a pixel within one of another is set.
func nearly(set func(x, y int) bool, x, y int) bool {
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if set(x+dx, y+dy) {
				return true
			}
		}
	}
	return false
}

// TestOutsideRasterize: buildings, streets and streams lie where gdal_rasterize burns
// them, to within a pixel either way.
func TestOutsideRasterize(t *testing.T) {
	const side = 512
	for i, d := range town(t).Draw {
		if d.Role == source.RoleAddress || d.Role == source.RoleParcel {
			continue // a dot; an outline alone
		}
		for _, zoom := range []int{15, 16, 18} {
			if zoom == 15 && d.Role == source.RoleBuilding {
				continue // from zoom 16 on, at 512 pixels
			}
			d.Name, d.Only = "", nil
			a, err := drawn.Open(t.Context(), source.Source{Name: "a", Kind: source.KindDrawn, TileSize: side, Draw: []source.Draw{d}})
			if err != nil {
				t.Fatal(err)
			}
			id := tiles.At(-101.8285, 35.2117, zoom)
			status, data, _ := ask(t, a, id, "")
			if status != http.StatusOK {
				continue
			}
			img, err := png.Decode(bytes.NewReader(data))
			if err != nil {
				t.Fatal(err)
			}
			paper := color.RGBA{0xf5, 0xf4, 0xf0, 0xff}
			want := burned(t, d.File, id, side)
			ours := func(x, y int) bool {
				return x >= 0 && y >= 0 && x < side && y < side && color.RGBAModel.Convert(img.At(x, y)) != paper
			}
			theirs := func(x, y int) bool { return x >= 0 && y >= 0 && x < side && y < side && want[y*side+x] }
			lost, extra, all := 0, 0, 0
			for p := range side * side {
				x, y := p%side, p/side
				if theirs(x, y) {
					all++
					if !nearly(ours, x, y) && d.Role != source.RoleRail {
						lost++
					}
				}
				if x > 0 && y > 0 && x < side-1 && y < side-1 && d.Role == source.RoleBuilding && ours(x, y) && !nearly(theirs, x, y) {
					extra++
				}
			}
			t.Logf("%d %s, zoom %d: %d pixels burned, %d of them not ours, %d only ours", i, d.Role, zoom, all, lost, extra)
			if lost+extra > 0 || all == 0 && zoom < 18 {
				t.Errorf("%s at zoom %d", d.Role, zoom)
			}
		}
	}
}

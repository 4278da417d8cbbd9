//go:build outside

package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"strings"
	"testing"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// TestOutsideOwnPicture goes from a GeoTIFF of the operator's own to a fit pack,
// whose pixels are held against gdalwarp. A part of the area is not covered.
func TestOutsideOwnPicture(t *testing.T) {
	o := newWorker(t)
	var ppm bytes.Buffer
	const side = 1200
	fmt.Fprintf(&ppm, "P6\n%d %d\n255\n", side, side)
	for i := range side * side {
		x, y := float64(i%side), float64(i/side)
		for _, k := range []float64{0, 1, 2} {
			ppm.WriteByte(byte(128 + 60*math.Sin(x/40+k) + 50*math.Cos(y/30-k)))
		}
	}
	if err := os.WriteFile(o.path("a.ppm"), ppm.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	tool(t, o.path(""), "gdal_translate", "-q", "-a_srs", "EPSG:26915", "-a_ullr", "480000", "4980300", "480300", "4980000", "-co", "TILED=YES", "a.ppm", "ortho.tif")
	out := o.must(0, "source", "add", o.path("ortho.tif"))
	if !strings.Contains(out, "kind raster, zooms 16 to 19") || !strings.Contains(out, "NAD83 / UTM zone 15N; pixels of 0.25 m") {
		t.Errorf("%s", out)
	}
	o.allow()
	pack1 := func(name, at string) (p packed) {
		t.Helper()
		o.must(0, "new", o.path(name), "--name", name, "--around", at, "--radius", "40m", "--margin", "5m", "--zooms", "16,19", "--source", "ortho")
		decode(t, o.must(0, "pack", o.path(name), "--json"), &p)
		return p
	}
	p := pack1("own", "44.97451,-93.25174")
	if p.Verdict != check.Fit || p.Absent != 0 || p.Tiles != p.Wanted {
		t.Fatalf("%+v", p)
	}
	if out := o.must(0, "refresh", o.path("own"), "--ask-all"); !strings.Contains(out, "16 requests for 16 tiles wanted, 0 B received") || !strings.Contains(out, "16 unchanged, 0 changed, 0 new") {
		t.Errorf("refreshed: %s", out)
	}
	// At the south-eastern corner a part of the ground is beside the picture.
	if p := pack1("rim", "44.97325,-93.24990"); p.Absent == 0 {
		t.Errorf("%+v", p)
	}
	compareWithGDAL(t, o, o.path("rim", "out", "rim.mbtiles"))
	compareWithGDAL(t, o, o.path("own", "out", "own.mbtiles"))
	if out := o.must(0, "source", "try", "ortho", "--at", "44.97450,-93.25200", "--zoom", "19"); !strings.Contains(out, "256×256 pixels") || !strings.Contains(out, "from: "+o.path("ortho.tif")) {
		t.Errorf("%s", out)
	}
}

// compareWithGDAL holds some tiles of a pack against those of gdalwarp. A pack
// with transparent tiles is of PNG, made of the JPEGs of whole tiles.
func compareWithGDAL(t *testing.T, o *worker, path string) {
	t.Helper()
	p, err := pack.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	covers, err := p.Wanted(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	sum, pixels, compared := 0, 0, 0
	for _, c := range covers {
		n := 0
		for id := range c.All() {
			data, err := p.Tile(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			if n++; len(data) == 0 || n%3 != 1 {
				continue
			}
			img, err := raster.Decode(data)
			if err != nil {
				t.Fatal(err)
			}
			want := warpedByGDAL(t, o, id)
			compared++
			for i := range 256 * 256 {
				r, g, b, a := img.At(i%256, i/256).RGBA()
				x, y, z, there := want.At(i%256, i/256).RGBA()
				if a != there && (a == 0) != (there == 0) {
					t.Fatalf("%v: pixel %d is there in one alone", id, i)
				}
				for _, d := range []int{int(r>>8) - int(x>>8), int(g>>8) - int(y>>8), int(b>>8) - int(z>>8)} {
					sum += max(d, -d)
				}
				pixels++
			}
		}
	}
	mean := float64(sum) / float64(3*pixels)
	t.Logf("%d tiles: packed pixels are %.2f tones from those of gdalwarp in the middle", compared, mean)
	if compared < 5 || mean > 2 { // JPEG of quality 90
		t.Errorf("%d tiles, %.2f tones", compared, mean)
	}
}

func warpedByGDAL(t *testing.T, o *worker, id tiles.ID) image.Image {
	t.Helper()
	e := id.Edges()
	_ = os.Remove(o.path("w.tif"))
	tool(t, o.path(""), "gdalwarp", "-q", "-t_srs", "EPSG:3857", "-te", fmt.Sprint(e.West), fmt.Sprint(e.South), fmt.Sprint(e.East), fmt.Sprint(e.North),
		"-ts", "256", "256", "-r", "cubic", "-et", "0", "-dstalpha", "ortho.tif", "w.tif")
	tool(t, o.path(""), "gdal_translate", "-q", "-of", "PNG", "w.tif", "w.png")
	data, err := os.ReadFile(o.path("w.png"))
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

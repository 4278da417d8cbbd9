//go:build outside

package serve

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"hash/fnv"
	"image"
	"image/color"
	"image/png"
	"io"
	"iter"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// The tests in this file need GDAL (https://gdal.org): its WMTS driver as a
// client and its MBTiles driver as another reader of the same pack; and the
// schemas of OGC from npm ogc-schemas 2.6.1.

// speckled is a tile whose pixels say which tile it is and where they are.
func speckled(t testing.TB, id tiles.ID, size int) []byte {
	t.Helper()
	h := fnv.New32a()
	fmt.Fprint(h, id)
	seed := h.Sum32()
	img := image.NewRGBA(image.Rect(0, 0, size, size))
	for y := range size {
		for x := range size {
			i := img.PixOffset(x, y)
			img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = uint8(x)^uint8(seed), uint8(y)^uint8(seed>>8), uint8(seed>>16)|1, 255
		}
	}
	data, err := raster.Encode(img, "png")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// speckledPack is a pack of zooms 14 to 16 over 4×3 tiles of the deepest.
func speckledPack(t testing.TB, size int) (path string, deepest tiles.Limit) {
	t.Helper()
	deepest = tiles.Limit{Zoom: 16, MinRow: 24690, MaxRow: 24692, MinCol: 7190, MaxCol: 7193}
	var covers []tiles.Cover
	bounds := tiles.ID{Z: 16, X: deepest.MinCol, Y: deepest.MinRow}.Bounds().Join(tiles.ID{Z: 16, X: deepest.MaxCol, Y: deepest.MaxRow}.Bounds())
	for up := 2; up >= 0; up-- {
		var spans []tiles.Span
		for row := deepest.MinRow >> up; row <= deepest.MaxRow>>up; row++ {
			spans = append(spans, tiles.Span{Row: row, First: deepest.MinCol >> up, Last: deepest.MaxCol >> up})
		}
		covers = append(covers, tiles.NewCover(16-up, spans))
	}
	records := func(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
		return func(yield func(store.Held, error) bool) {
			for id := range c.All() {
				data := speckled(t, id, size)
				if !yield(store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: "png"}, nil) {
					return
				}
			}
		}
	}
	path = filepath.Join(t.TempDir(), "speckled.mbtiles")
	_, err := pack.Write(t.Context(), path, pack.Content{
		About:  pack.About{Name: fmt.Sprintf("Speckled %d", size), Units: "us", TileSize: size},
		Bounds: bounds, Covers: covers, Area: []byte(`{"type":"FeatureCollection","features":[]}`), Tiles: store.CoverFunc(records),
	}, pack.WriteOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return path, deepest
}

// translate gives the window of a dataset as GDAL draws it.
func translate(t *testing.T, dataset string, window tiles.Box, options ...string) image.Image {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out.png")
	edge := func(v float64) string { return fmt.Sprintf("%.10f", v) }
	args := append([]string{"-q", "-of", "PNG", "-b", "1", "-b", "2", "-b", "3", "-projwin", edge(window.West), edge(window.North), edge(window.East), edge(window.South)}, options...)
	c := exec.Command("gdal_translate", append(args, dataset, out)...)
	c.Dir = t.TempDir()
	c.Env = append(os.Environ(), "GDAL_CACHEMAX=64", "GDAL_PAM_ENABLED=NO", "GDAL_DEFAULT_WMS_CACHE_PATH="+t.TempDir(), "XDG_CACHE_HOME="+t.TempDir())
	if text, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", dataset, err, text)
	}
	data, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func samePixels(a, b image.Image) (same bool, why string) {
	if a.Bounds() != b.Bounds() {
		return false, fmt.Sprintf("%v and %v", a.Bounds(), b.Bounds())
	}
	for y := a.Bounds().Min.Y; y < a.Bounds().Max.Y; y++ {
		for x := a.Bounds().Min.X; x < a.Bounds().Max.X; x++ {
			r, g, b1, _ := a.At(x, y).RGBA()
			r2, g2, b2, _ := b.At(x, y).RGBA()
			if r != r2 || g != g2 || b1 != b2 {
				return false, fmt.Sprintf("they differ at %d, %d", x, y)
			}
		}
	}
	return true, ""
}

// TestOutsideGDALDrawsTheSame: GDAL's WMTS driver, given the address of the
// capabilities alone, draws the pixels that its MBTiles driver draws from the
// file, at the deepest zoom and at the one above.
func TestOutsideGDALDrawsTheSame(t *testing.T) {
	for _, size := range []int{256, 512} {
		path, d := speckledPack(t, size)
		h := start(t, makePack(t, "Deeper one"), path)
		id := fmt.Sprintf("speckled-%d", size)
		a, b := tiles.ID{Z: 16, X: d.MinCol, Y: d.MinRow}.Edges(), tiles.ID{Z: 16, X: d.MaxCol, Y: d.MaxRow}.Edges()
		whole := tiles.Box{West: a.West, South: b.South, East: b.East, North: a.North}
		side := (a.East - a.West)
		inner := tiles.Box{West: whole.West + side/4, South: whole.South + side/2, East: whole.East - side/8, North: whole.North - side/4}
		one, all := h.URL+"/packs/"+id+"/wmts/1.0.0/WMTSCapabilities.xml", h.URL+"/wmts/1.0.0/WMTSCapabilities.xml"
		for name, dataset := range map[string]string{
			"one pack":            "WMTS:" + one,
			"one of all":          "WMTS:" + all + ",layer=" + id,
			"one of all, by zoom": "WMTS:" + all + ",layer=" + id + ",tilematrix=16",
			"by questions":        "WMTS:" + h.URL + "/packs/" + id + "/wmts?SERVICE=WMTS&REQUEST=GetCapabilities&VERSION=1.0.0",
		} {
			for part, window := range map[string]tiles.Box{"whole": whole, "inner": inner} {
				t.Run(fmt.Sprintf("%d px, %s, %s", size, name, part), func(t *testing.T) {
					pixels := fmt.Sprint(int((window.East - window.West) / side * float64(size)))
					rows := fmt.Sprint(int((window.North - window.South) / side * float64(size)))
					theirs := translate(t, dataset, window, "-outsize", pixels, rows)
					file := translate(t, path, window, "-outsize", pixels, rows)
					if same, why := samePixels(theirs, file); !same {
						t.Error(why)
					}
					if part == "whole" { // and both are what was packed
						for _, at := range []tiles.ID{{Z: 16, X: d.MinCol, Y: d.MinRow}, {Z: 16, X: d.MaxCol, Y: d.MaxRow}} {
							want, err := png.Decode(bytes.NewReader(speckled(t, at, size)))
							if err != nil {
								t.Fatal(err)
							}
							p := image.Pt(int(at.X-d.MinCol)*size, int(at.Y-d.MinRow)*size)
							got := theirs.(interface {
								SubImage(image.Rectangle) image.Image
							}).SubImage(image.Rectangle{p, p.Add(image.Pt(size, size))})
							if same, why := samePixels(shifted{got, p}, want); !same {
								t.Errorf("%v: %s", at, why)
							}
						}
					}
				})
			}
		}
	}
}

// shifted moves an image to 0, 0.
type shifted struct {
	image.Image
	by image.Point
}

func (s shifted) Bounds() image.Rectangle { return s.Image.Bounds().Sub(s.by) }
func (s shifted) At(x, y int) color.Color {
	return s.Image.At(x+s.by.X, y+s.by.Y)
}

// TestOutsideCapabilitiesAreValid: capabilities and reports against the schemas
// of OGC; and documents with a fault are found out.
func TestOutsideCapabilitiesAreValid(t *testing.T) {
	path, _ := speckledPack(t, 512)
	h := start(t, makePack(t, "Site <one>"), path)
	dir := t.TempDir()
	keep := func(name string, body []byte) string {
		file := filepath.Join(dir, name+".xml")
		if err := os.WriteFile(file, body, 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	valid := map[string]string{}
	for name, address := range map[string]string{
		"all": "/wmts/1.0.0/WMTSCapabilities.xml", "one": "/packs/site-one/wmts/1.0.0/WMTSCapabilities.xml", "questions": "/wmts?service=WMTS&request=GetCapabilities",
		"missing": "/wmts?service=WMTS&request=GetTile", "unsupported": "/wmts?service=WMTS&request=GetFeatureInfo", "range": "/wmts" + tileQuestion(tiles.ID{Z: 17}),
	} {
		resp, err := http.Get(h.URL + address)
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		valid[name] = keep(name, body)
	}
	check := func(file string) (string, error) {
		c := exec.Command("node", "wmts.mjs", file)
		c.Dir = filepath.Join("..", "testdata", "reference")
		out, err := c.CombinedOutput()
		return string(out), err
	}
	for name, file := range valid {
		if out, err := check(file); err != nil {
			t.Errorf("%s: %v\n%s", name, err, out)
		}
	}
	whole, err := os.ReadFile(valid["all"])
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string][2]string{
		"no format": {"<Format>image/png</Format>", ""}, "no version": {` version="1.0.0"`, ""}, "unknown": {"<Contents>", "<Contents><Other/>"}, "no number": {"<TileWidth>256", "<TileWidth>wide"},
	} {
		out, err := check(keep("fault", bytes.Replace(whole, []byte(c[0]), []byte(c[1]), 1)))
		if err == nil || !strings.Contains(out, "fault.xml") {
			t.Errorf("%s: the checker sees nothing: %s", name, out)
		}
	}
}

// TestOutsideGDALWithTheCode: behind a join code GDAL reads with the code as its
// password (HTTP Basic, RFC 7617), and nothing without.
func TestOutsideGDALWithTheCode(t *testing.T) {
	path, d := speckledPack(t, 256)
	base, _ := closedOver(t, path)
	a, b := tiles.ID{Z: 16, X: d.MinCol, Y: d.MinRow}.Edges(), tiles.ID{Z: 16, X: d.MinCol + 1, Y: d.MinRow}.Edges()
	window := tiles.Box{West: a.West, South: a.South, East: b.East, North: b.North}
	dataset := "WMTS:" + base + "/wmts/1.0.0/WMTSCapabilities.xml"
	if out, err := exec.Command("gdalinfo", "--config", "GDAL_HTTP_USERPWD", "gis:0000000000", dataset).CombinedOutput(); err == nil {
		t.Errorf("it reads with a wrong code: %s", out)
	}
	t.Setenv("GDAL_HTTP_USERPWD", "gis:"+testCode)
	if same, why := samePixels(translate(t, dataset, window), translate(t, path, window)); !same {
		t.Error(why)
	}
}

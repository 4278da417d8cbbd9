//go:build outside

package discover_test

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/source"
)

// The tests in this file need GDAL (https://gdal.org): its WMTS and WMS drivers
// as other readers of the same services, and its writers of MBTiles and of
// folders of tiles.

// gdal runs a program of GDAL.
func gdal(t *testing.T, dir, name string, args ...string) {
	t.Helper()
	c := exec.Command(name, args...)
	c.Dir = dir
	c.Env = append(os.Environ(), "GDAL_CACHEMAX=64")
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

// region is four tiles of a zoom, and their ground.
func region() (first tiles.ID, n int, box tiles.Box) {
	first, n = tiles.ID{Z: 16, X: 7190, Y: 24690}, 2
	a, b := first.Edges(), tiles.ID{Z: first.Z, X: first.X + 1, Y: first.Y + 1}.Edges()
	return first, n, tiles.Box{West: a.West, South: b.South, East: b.East, North: a.North}
}

// mosaic puts the tiles that a source gives together.
func mosaic(t *testing.T, src source.Source) *image.RGBA {
	t.Helper()
	resolved, client, done, err := discover.Open(t.Context(), src, discover.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer done()
	if client == nil {
		client = http.DefaultClient
	}
	first, n, _ := region()
	out := image.NewRGBA(image.Rect(0, 0, n*256, n*256))
	for i := range n * n {
		address, err := resolved.Address(tiles.ID{Z: first.Z, X: first.X + uint32(i%n), Y: first.Y + uint32(i/n)})
		if err != nil {
			t.Fatal(err)
		}
		resp, err := client.Get(address)
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil {
			t.Fatal(err)
		}
		m, err := png.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatalf("%s: %s: %v", address, resp.Status, err)
		}
		at := image.Pt(i%n*256, i/n*256)
		draw.Draw(out, image.Rectangle{at, at.Add(image.Pt(256, 256))}, m, m.Bounds().Min, draw.Src)
	}
	return out
}

func decodePNG(t *testing.T, path string) image.Image {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestOutsideGDALReadsTheSame: GDAL's WMTS and WMS drivers ask the same server
// for the same ground and get the pixels that our addresses get.
func TestOutsideGDALReadsTheSame(t *testing.T) {
	w := newWorld(t, 256)
	w.style = "plain" // GDAL 3.6 does not escape a space in it
	t.Setenv("GS_WORLD_KEY", "1")
	_, n, box := region()
	dir := t.TempDir()
	wms := func(name, version, crs string, swap bool) string {
		b := box
		reverse := ""
		if swap { // the window is given in the order of the axes of EPSG:4326
			reverse = "<BBoxOrder>yxYX</BBoxOrder>"
		}
		system := "<CRS>" + crs + "</CRS>"
		if version == "1.1.1" {
			system = "<SRS>" + crs + "</SRS>"
		}
		path := filepath.Join(dir, name+".xml")
		text := fmt.Sprintf(`<GDAL_WMS><Service name="WMS"><Version>%s</Version><ServerUrl>%s/wms?</ServerUrl>%s<ImageFormat>image/png</ImageFormat><Layers>world</Layers><Styles></Styles>%s</Service>
<DataWindow><UpperLeftX>%.10f</UpperLeftX><UpperLeftY>%.10f</UpperLeftY><LowerRightX>%.10f</LowerRightX><LowerRightY>%.10f</LowerRightY><SizeX>%d</SizeX><SizeY>%d</SizeY></DataWindow>
<Projection>EPSG:3857</Projection><BandsCount>3</BandsCount><BlockSizeX>256</BlockSizeX><BlockSizeY>256</BlockSizeY></GDAL_WMS>`,
			version, w.URL, system, reverse, b.West, b.North, b.East, b.South, n*256, n*256)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	zooms := fmt.Sprintf("\nzooms = [%d, %d]", low, high)
	window := []string{"-projwin", fmt.Sprintf("%.10f", box.West), fmt.Sprintf("%.10f", box.North), fmt.Sprintf("%.10f", box.East), fmt.Sprintf("%.10f", box.South)}
	kvp := filepath.Join(dir, "kvp.xml")
	text := `<GDAL_WMTS><GetCapabilitiesUrl>` + w.URL + `/wmts/kvp?token=1&amp;SERVICE=WMTS&amp;REQUEST=GetCapabilities</GetCapabilitiesUrl><ExtraQueryParameters>token=1</ExtraQueryParameters>` +
		`<Layer>world</Layer><TileMatrixSet>web</TileMatrixSet><TileMatrix>L16</TileMatrix></GDAL_WMTS>`
	if err := os.WriteFile(kvp, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cases := map[string]struct {
		source string
		gdal   []string
	}{
		"wmts rest": {`kind = "wmts"` + "\nurl = \"" + w.URL + "/wmts/caps.xml\"" + zooms,
			append([]string{"WMTS:" + w.URL + "/wmts/caps.xml,layer=world,tilematrixset=web,tilematrix=L16"}, window...)},
		"wmts kvp": {`kind = "wmts"` + "\nurl = \"" + w.URL + "/wmts/kvp?token={key}\"\nkey_env = \"GS_WORLD_KEY\"" + zooms,
			append([]string{kvp}, window...)},
		"wms 1.3.0": {`kind = "wms"` + "\nlayer = \"world\"\nurl = \"" + w.URL + "/wms\"" + zooms, []string{wms("a", "1.3.0", "EPSG:3857", false)}},
		"wms 1.1.1": {`kind = "wms"` + "\nlayer = \"world\"\nversion = \"1.1.1\"\nurl = \"" + w.URL + "/wms\"" + zooms, []string{wms("b", "1.1.1", "EPSG:3857", false)}},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+".png")
			gdal(t, dir, "gdal_translate", append([]string{"-q", "-of", "PNG", "-b", "1", "-b", "2", "-b", "3"}, append(c.gdal, out)...)...)
			theirs, ours := decodePNG(t, out), mosaic(t, kind(t, c.source))
			if theirs.Bounds().Dx() != n*256 || !same(theirs, image.Point{}, ours) {
				t.Errorf("%v: the pixels differ from GDAL's", theirs.Bounds())
			}
		})
	}
}

// TestOutsideDegrees: GDAL asks for the ground in EPSG:4326 by version 1.3.0,
// latitude first, and gets the columns and rows that we get.
func TestOutsideDegrees(t *testing.T) {
	w := newWorld(t, 256)
	dir := t.TempDir()
	first, _, _ := region()
	b := first.Bounds()
	path := filepath.Join(dir, "degrees.xml")
	text := fmt.Sprintf(`<GDAL_WMS><Service name="WMS"><Version>1.3.0</Version><ServerUrl>%s/wms?</ServerUrl><CRS>EPSG:4326</CRS><BBoxOrder>yxYX</BBoxOrder><ImageFormat>image/png</ImageFormat><Layers>world</Layers></Service>
<DataWindow><UpperLeftX>%.14f</UpperLeftX><UpperLeftY>%.14f</UpperLeftY><LowerRightX>%.14f</LowerRightX><LowerRightY>%.14f</LowerRightY><SizeX>256</SizeX><SizeY>256</SizeY></DataWindow>
<Projection>EPSG:4326</Projection><BandsCount>3</BandsCount><BlockSizeX>256</BlockSizeX><BlockSizeY>256</BlockSizeY></GDAL_WMS>`, w.URL, b.West, b.North, b.East, b.South)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "degrees.png")
	gdal(t, dir, "gdal_translate", "-q", "-of", "PNG", "-b", "1", "-b", "2", "-b", "3", path, out)
	src, err := discover.Resolve(t.Context(), kind(t, `kind = "wms"`+"\nlayer = \"world\"\ncrs = \"EPSG:4326\"\nurl = \""+w.URL+"/wms\"\nzooms = [14, 18]"), discover.Options{})
	if err != nil {
		t.Fatal(err)
	}
	address, err := src.Address(first)
	if err != nil {
		t.Fatal(err)
	}
	if theirs := decodePNG(t, out); !same(theirs, image.Point{}, get(t, address)) || !same(theirs, image.Point{}, w.tile(first)) {
		t.Error("the pixels differ from GDAL's")
	}
}

// TestOutsideGDALWrites: an MBTiles file and folders that GDAL made, with rows
// from either end, give GDAL's own pixels.
func TestOutsideGDALWrites(t *testing.T) {
	w := newWorld(t, 256)
	dir := t.TempDir()
	_, n, box := region()
	picture := mosaic(t, kind(t, `kind = "xyz"`+"\nurl = \""+w.URL+"/xyz/{z}/{x}/{y}.png\"\nzooms = [10, 18]"))
	var b bytes.Buffer
	if err := png.Encode(&b, picture); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "in.png"), b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	edge := func(v float64) string { return fmt.Sprintf("%.10f", v) }
	gdal(t, dir, "gdal_translate", "-q", "-a_srs", "EPSG:3857", "-a_ullr", edge(box.West), edge(box.North), edge(box.East), edge(box.South), "in.png", "in.tif")
	gdal(t, dir, "gdal_translate", "-q", "-of", "MBTILES", "-co", "TILE_FORMAT=PNG", "in.tif", "out.mbtiles")
	gdal(t, dir, "gdal2tiles.py", "-q", "-r", "near", "-z", "16", "-w", "none", "--xyz", "in.tif", "north")
	gdal(t, dir, "gdal2tiles.py", "-q", "-r", "near", "-z", "16", "-w", "none", "in.tif", "south")
	for name, src := range map[string]source.Source{
		"mbtiles":    {Name: "a", Kind: source.KindMBTiles, File: filepath.Join(dir, "out.mbtiles")},
		"from north": {Name: "a", Kind: source.KindFolder, File: filepath.Join(dir, "north") + "/{z}/{x}/{y}.png"},
		"from south": {Name: "a", Kind: source.KindFolder, File: filepath.Join(dir, "south") + "/{z}/{x}/{-y}.png"},
	} {
		t.Run(name, func(t *testing.T) {
			src.Zooms, src.TileSize = tiles.Zooms{Min: 16, Max: 16}, 256
			if !same(picture, image.Point{}, mosaic(t, src)) || n != 2 {
				t.Error("the pixels differ from GDAL's")
			}
			where := strings.TrimSuffix(strings.TrimSuffix(src.File, "/{z}/{x}/{y}.png"), "/{z}/{x}/{-y}.png")
			offers, err := discover.Describe(t.Context(), source.Source{File: where}, discover.Options{})
			if err != nil || offers[0].Source.Zooms != src.Zooms || offers[0].Source.TileSize != 256 {
				t.Errorf("%+v, %v", offers, err)
			}
			if name == "from south" && (len(offers) != 1 || offers[0].Source.File != src.File) {
				t.Errorf("the TMS document was not seen: %+v", offers)
			}
		})
	}
}

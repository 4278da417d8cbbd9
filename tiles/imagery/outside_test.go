//go:build outside

package imagery_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/imagery"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// run runs a program of GDAL.
func run(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %v: %v: %s", name, args, err, out)
	}
}

const side = 600

// invented is a PPM of smooth ground with sharp lines on it, of 8 or 16 bits. Its
// south-eastern corner has no picture: zeros.
func invented(t *testing.T, deep bool) string {
	t.Helper()
	var b bytes.Buffer
	most := 255
	if deep {
		most = 65535
	}
	fmt.Fprintf(&b, "P6\n%d %d\n%d\n", side, side, most)
	for y := range side {
		for x := range side {
			fx, fy := float64(x), float64(y)
			tone := [3]float64{90 + 50*math.Sin(fx/17), 120 + 60*math.Cos(fy/23), 80 + 40*math.Sin((fx+fy)/31)}
			if x%97 < 3 || y%83 < 2 {
				tone = [3]float64{230, 225, 210}
			}
			if x+y > 3*side/2 {
				tone = [3]float64{}
			}
			for _, v := range tone {
				if deep {
					n := int(v*12 + 300)
					if v == 0 {
						n = 0
					}
					b.Write([]byte{byte(n >> 8), byte(n)})
				} else {
					b.WriteByte(byte(v))
				}
			}
		}
	}
	path := filepath.Join(t.TempDir(), "invented.ppm")
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// translate makes a picture of the invented one, half a meter a pixel.
func translate(t *testing.T, from, name string, args ...string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), name)
	run(t, "gdal_translate", append(append([]string{"-q"}, args...), from, out)...)
	return out
}

var utm = []string{"-a_srs", "EPSG:26915", "-a_ullr", "480000", "4980300", "480300", "4980000"}

// pictures are made of invented pixels, one of each form that offices have.
func pictures(t *testing.T) map[string]source.Source {
	plain, deep := invented(t, false), invented(t, true)
	with := func(more ...string) []string { return append(append([]string{}, utm...), more...) }
	of := func(file string) source.Source {
		return source.Source{Name: "own", Kind: source.KindRaster, File: file, Format: "image/png", TileSize: 256, Zooms: tiles.Zooms{Max: 22}}
	}
	turned := filepath.Join(t.TempDir(), "turned.vrt")
	if err := os.WriteFile(turned, []byte(`<VRTDataset rasterXSize="600" rasterYSize="600"><SRS>EPSG:26915</SRS>
		<GeoTransform>480000, 0.433, 0.25, 4980300, 0.25, -0.433</GeoTransform>`+bandsOf(plain)+`</VRTDataset>`), 0o600); err != nil {
		t.Fatal(err)
	}
	nodata := of(translate(t, plain, "nodata.tif", with("-a_nodata", "0")...))
	jpeg := of(translate(t, plain, "utm jpeg.tif", with("-co", "TILED=YES", "-co", "COMPRESS=JPEG", "-co", "PHOTOMETRIC=YCBCR")...))
	sixteen := of(translate(t, deep, "16.tif", with("-a_nodata", "0", "-co", "COMPRESS=LZW")...))
	sixteen.Scale = []float64{300, 3360}
	bare := of(translate(t, plain, "bare.tif", "-a_ullr", "480000", "4980300", "480300", "4980000"))
	bare.CRS = "EPSG:26915"
	swapped := of(translate(t, plain, "four bands.tif", with("-b", "3", "-b", "2", "-b", "1", "-b", "2", "-colorinterp", "undefined,undefined,undefined,undefined")...))
	swapped.Bands = []int{3, 2, 1}
	// Nodata as transparency, in a band of its own.
	masked := of(translate(t, translate(t, plain, "for mask.tif", with("-a_nodata", "0")...), "masked.tif", "-b", "1", "-b", "2", "-b", "3", "-b", "mask", "-a_nodata", "none", "-co", "ALPHA=YES"))
	deepMasked := of(translate(t, sixteen.File, "16 masked.tif", "-b", "1", "-b", "2", "-b", "3", "-b", "mask", "-a_nodata", "none", "-co", "ALPHA=YES", "-scale_4", "0", "255", "0", "65535"))
	deepMasked.Scale = sixteen.Scale
	return map[string]source.Source{
		"UTM":                   of(translate(t, plain, "utm.tif", with("-co", "TILED=YES")...)),
		"UTM, JPEG inside":      jpeg,
		"State Plane feet":      of(translate(t, plain, "feet.tif", "-a_srs", "EPSG:2232", "-a_ullr", "3140000", "1701000", "3141000", "1700000")),
		"degrees":               of(translate(t, plain, "degrees.tif", "-a_srs", "EPSG:4326", "-a_ullr", "-93.25", "44.98", "-93.246", "44.977")),
		"nodata":                nodata,
		"16 bits":               sixteen,
		"rotated":               of(translate(t, turned, "rotated.tif")),
		"JPEG 2000":             of(translate(t, plain, "a.jp2", with("-of", "JP2OpenJPEG", "-co", "QUALITY=100", "-co", "REVERSIBLE=YES")...)),
		"system stated":         bare,
		"bands stated":          swapped,
		"transparency band":     masked,
		"16 bits, transparency": deepMasked,
		"gray":                  of(translate(t, plain, "gray.tif", with("-b", "2")...)),
	}
}

func bandsOf(file string) string {
	var b strings.Builder
	for i := 1; i <= 3; i++ {
		fmt.Fprintf(&b, `<VRTRasterBand dataType="Byte" band="%d"><ColorInterp>%s</ColorInterp><SimpleSource><SourceFilename relativeToVRT="0">%s</SourceFilename><SourceBand>%d</SourceBand></SimpleSource></VRTRasterBand>`,
			i, []string{"Red", "Green", "Blue"}[i-1], file, i)
	}
	return b.String()
}

func open(t *testing.T, src source.Source) *imagery.Answerer {
	t.Helper()
	a, err := imagery.Open(t.Context(), src, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	return a
}

// ask asks for a tile as the fetcher does.
func ask(t *testing.T, a *imagery.Answerer, id tiles.ID, header ...string) (*http.Response, []byte) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://imagery.invalid/"+id.String(), nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	r, err := a.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	data, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r, data
}

// byGDAL is the same tile by gdalwarp alone, computed exactly.
func byGDAL(t *testing.T, src source.Source, id tiles.ID) *image.NRGBA {
	t.Helper()
	e, dir := id.Edges(), t.TempDir()
	warped, out := filepath.Join(dir, "w.tif"), filepath.Join(dir, "o.png")
	args := []string{"-q", "-t_srs", "EPSG:3857", "-te", fmt.Sprint(e.West), fmt.Sprint(e.South), fmt.Sprint(e.East), fmt.Sprint(e.North),
		"-ts", "256", "256", "-r", "cubic", "-et", "0", "-dstalpha", "-wo", "UNIFIED_SRC_NODATA=YES"}
	if src.CRS != "" {
		args = append(args, "-s_srs", src.CRS)
	}
	run(t, "gdalwarp", append(args, src.File, warped)...)
	last := []string{"-q", "-of", "PNG"}
	switch {
	case len(src.Scale) > 0:
		last = append(last, "-ot", "Byte")
		for i := 1; i <= 3; i++ {
			last = append(last, fmt.Sprintf("-scale_%d", i), fmt.Sprint(src.Scale[0]), fmt.Sprint(src.Scale[1]), "0", "255")
		}
		last = append(last, "-scale_4", "0", "65535", "0", "255")
	case len(src.Bands) > 0:
		last = append(last, "-b", "3", "-b", "2", "-b", "1", "-b", "5")
	}
	run(t, "gdal_translate", append(last, warped, out)...)
	f, err := os.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return nrgba(img)
}

func nrgba(img image.Image) *image.NRGBA {
	out := image.NewNRGBA(image.Rect(0, 0, img.Bounds().Dx(), img.Bounds().Dy()))
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			out.Set(x, y, img.At(img.Bounds().Min.X+x, img.Bounds().Min.Y+y))
		}
	}
	return out
}

// TestOutsidePixels: tiles of every form of picture are those of gdalwarp.
func TestOutsidePixels(t *testing.T) {
	for name, src := range pictures(t) {
		t.Run(name, func(t *testing.T) {
			p, err := imagery.Propose(t.Context(), src, nil)
			if err != nil {
				t.Fatal(err)
			}
			a := open(t, src)
			var d difference
			for _, id := range some(*p.Source.Bounds, p.Source.Zooms.Max) {
				want := byGDAL(t, src, id)
				r, data := ask(t, a, id)
				if r.StatusCode == http.StatusNotFound {
					d.hole(t, id, want)
					continue
				}
				img, err := raster.Decode(data)
				if err != nil {
					t.Fatal(err)
				}
				d.add(nrgba(img), want)
			}
			t.Logf("%d pixels: differences from gdalwarp %d tones at most, %.4f in the middle; %d pixels of the rim there in one alone; %d holes",
				d.pixels, d.worst, d.mean(), d.rim, d.holes)
			// The place is computed within a hundredth of a pixel: a tone beside the
			// sharp lines, and a pixel of the rim here and there.
			if d.worst > 2 || d.mean() > 0.05 || d.pixels < 50_000 || d.rim > d.pixels/2000 || d.holes == 0 {
				t.Error("too far off, or nothing compared")
			}
		})
	}
}

// some are tiles in all corners of a box at its sharpest zoom, one beyond it, and
// one far above.
func some(box tiles.Box, zoom int) []tiles.ID {
	l, up := box.Limit(zoom), box.Limit(zoom-3)
	at := func(x, y uint32) tiles.ID { return tiles.ID{Z: uint32(zoom), X: x, Y: y} }
	return []tiles.ID{at(l.MinCol-1, l.MinRow), at(l.MinCol, l.MinRow), at(l.MaxCol, l.MaxRow),
		at((l.MinCol+l.MaxCol)/2, (l.MinRow+l.MaxRow)/2), {Z: uint32(zoom - 3), X: up.MinCol, Y: up.MinRow}}
}

// difference is how far pictures are from those of gdalwarp.
type difference struct{ worst, sum, pixels, rim, holes int }

func (d *difference) mean() float64 { return float64(d.sum) / float64(max(4*d.pixels, 1)) }

func (d *difference) hole(t *testing.T, id tiles.ID, want *image.NRGBA) {
	d.holes++
	for i := 3; i < len(want.Pix); i += 4 {
		if want.Pix[i] != 0 {
			t.Fatalf("%v is a hole, and gdalwarp has pixels there", id)
		}
	}
}

func (d *difference) add(got, want *image.NRGBA) {
	for i := 0; i < len(got.Pix); i += 4 {
		a, b := got.Pix[i+3], want.Pix[i+3]
		switch {
		case a == 0 && b == 0:
			continue
		case a == 0 || b == 0:
			d.rim++
			continue
		}
		d.pixels++
		for k := range 4 {
			off := int(got.Pix[i+k]) - int(want.Pix[i+k])
			d.worst, d.sum = max(d.worst, off, -off), d.sum+max(off, -off)
		}
	}
}

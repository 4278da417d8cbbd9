//go:build outside

package imagery_test

import (
	"image"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/imagery"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

func decoded(t *testing.T, a *imagery.Answerer, id tiles.ID) *image.NRGBA {
	t.Helper()
	_, data := ask(t, a, id)
	img, err := raster.Decode(data)
	if err != nil {
		t.Fatalf("%v: %v", id, err)
	}
	return nrgba(img)
}

// TestOutsideSeams: pixels on both sides of the edge between two blocks are those
// of one gdalwarp over both.
func TestOutsideSeams(t *testing.T) {
	// Twelve meters a pixel, so that the ground has several blocks far apart.
	src := source.Source{Name: "own", Kind: source.KindRaster, TileSize: 256, Format: "image/png", Zooms: tiles.Zooms{Max: 22},
		File: translate(t, invented(t, false), "wide.tif", "-a_srs", "EPSG:26915", "-a_ullr", "480000", "4987200", "487200", "4980000")}
	p, err := imagery.Propose(t.Context(), src, nil)
	if err != nil {
		t.Fatal(err)
	}
	a := open(t, src)
	// The first edge of blocks inside, at a zoom where blocks are small enough.
	zoom := 16
	l := p.Source.Bounds.Limit(zoom)
	x, y := (l.MinCol/8+1)*8, (l.MinRow/8+1)*8
	if x > l.MaxCol || y > l.MaxRow {
		t.Fatalf("no edge of blocks in %+v", l)
	}
	var d difference
	for _, id := range []tiles.ID{{X: x - 1, Y: y - 1}, {X: x, Y: y - 1}, {X: x - 1, Y: y}, {X: x, Y: y}} {
		id.Z = uint32(zoom)
		d.add(decoded(t, a, id), byGDAL(t, src, id))
	}
	t.Logf("%d tones at most at the corner of four blocks", d.worst)
	if d.worst > 2 || d.rim > 0 {
		t.Errorf("%+v", d)
	}
}

// TestOutsideMosaics: several pictures, a folder and a VRT lie on each other in
// the order that is stated.
func TestOutsideMosaics(t *testing.T) {
	dir := t.TempDir()
	make := func(name string, tone string, more ...string) string {
		path := filepath.Join(dir, name)
		run(t, "gdal_create", append(append([]string{"-q", "-of", "GTiff", "-outsize", "100", "100", "-bands", "3", "-burn", tone}, more...), path)...)
		return path
	}
	low := make("a low.tif", "100", "-a_srs", "EPSG:26915", "-a_ullr", "480000", "4980100", "480100", "4980000")
	high := make("b high.tif", "200", "-a_srs", "EPSG:26915", "-a_ullr", "480050", "4980100", "480150", "4980000")
	other := make("c other.tif", "50", "-a_srs", "EPSG:32615", "-ot", "UInt16", "-a_ullr", "480120", "4980100", "480220", "4980000")
	mosaic := filepath.Join(dir, "m.vrt")
	run(t, "gdalbuildvrt", "-q", mosaic, high, low)
	at := func(src source.Source, east float64) uint8 {
		t.Helper()
		src.Name, src.Kind, src.TileSize, src.Format, src.Zooms = "own", source.KindRaster, 256, "image/png", tiles.Zooms{Max: 22}
		a := open(t, src)
		// Longitude by rule of three: a meter east is so many degrees there.
		lon, lat := -93.25365+(east-480000)*1.26776e-5, 44.97360
		id := tiles.At(lon, lat, 20)
		fx, fy := tiles.Project(lon, lat)
		img := decoded(t, a, id)
		return img.NRGBAAt(int(fx*(1<<20)*256)%256, int(fy*(1<<20)*256)%256).R
	}
	for name, c := range map[string]struct {
		src  source.Source
		east float64
		want uint8
	}{
		"low alone":             {source.Source{Raster: source.Raster{Files: []string{low, high}}}, 480025, 100},
		"the later on top":      {source.Source{Raster: source.Raster{Files: []string{low, high}}}, 480075, 200},
		"turned round":          {source.Source{Raster: source.Raster{Files: []string{high, low}}}, 480075, 100},
		"another layout on top": {source.Source{Raster: source.Raster{Files: []string{high, other}, Scale: []float64{0, 255}}}, 480135, 50},
		"and below":             {source.Source{Raster: source.Raster{Files: []string{other, high}, Scale: []float64{0, 255}}}, 480135, 200},
		"a folder, by name":     {source.Source{File: dir, Raster: source.Raster{Scale: []float64{0, 255}}}, 480075, 200},
		"a VRT in its order":    {source.Source{File: mosaic}, 480075, 100},
	} {
		if got := at(c.src, c.east); got != c.want {
			t.Errorf("%s: %d, want %d", name, got, c.want)
		}
	}
	p, err := imagery.Propose(t.Context(), source.Source{Kind: source.KindRaster, Raster: source.Raster{Files: []string{low, high}}}, nil)
	if err != nil || !strings.Contains(strings.Join(p.Notes, "\n"), "2 pictures; where two overlap, the later one is on top, and the last is "+high) {
		t.Errorf("%v, %v", p.Notes, err)
	}
}

// TestOutsideConfirmed: a tile is confirmed without being made again, until its
// picture changes; a picture that changes under way is told.
func TestOutsideConfirmed(t *testing.T) {
	src := source.Source{Name: "own", Kind: source.KindRaster, TileSize: 256, Zooms: tiles.Zooms{Max: 22}, File: translate(t, invented(t, false), "a.tif", utm...)}
	p, err := imagery.Propose(t.Context(), src, nil)
	if err != nil {
		t.Fatal(err)
	}
	lon, lat := p.Source.Bounds.Center()
	id, beside := tiles.At(lon, lat, 19), tiles.At(lon+0.1, lat, 19)
	a := open(t, src)
	r, data := ask(t, a, id)
	if kind, err := raster.Prove(data, 256); err != nil || kind.Kind != raster.JPG {
		t.Fatalf("%v, %v", kind, err)
	}
	tag := r.Header.Get("ETag")
	if r, data := ask(t, a, id, "If-None-Match", tag); r.StatusCode != http.StatusNotModified || len(data) > 0 {
		t.Errorf("%s", r.Status)
	}
	if r, _ := ask(t, a, beside); r.StatusCode != http.StatusNotFound {
		t.Errorf("beside it: %s", r.Status)
	}
	put(t, src.File, append(read(t, src.File), 0))
	req, _ := http.NewRequestWithContext(t.Context(), http.MethodGet, "http://imagery.invalid/"+tiles.At(lon, lat, 15).String(), nil)
	if _, err := a.RoundTrip(req); err == nil || !strings.Contains(err.Error(), "changed while it was read") {
		t.Errorf("%v", err)
	}
	if r, _ := ask(t, open(t, src), id, "If-None-Match", tag); r.StatusCode != http.StatusOK || r.Header.Get("ETag") == tag {
		t.Errorf("a changed picture: %s", r.Status)
	}
}

// TestOutsideProposal: what a picture says of itself is proposed, and what it does
// not say is told.
func TestOutsideProposal(t *testing.T) {
	plain, deep := invented(t, false), invented(t, true)
	taken := filepath.Join(t.TempDir(), "taken.tif")
	run(t, "gdal_translate", append(append([]string{"-q", "-mo", "TIFFTAG_DATETIME=2024:01:02 03:04:05"}, utm...), plain, taken)...)
	run(t, "gdaladdo", "-q", "-r", "average", taken, "2", "4", "8")
	sixteen := translate(t, deep, "16.tif", append(utm, "-a_nodata", "0")...)
	look := func(file string) imagery.Proposal {
		t.Helper()
		p, err := imagery.Propose(t.Context(), source.Source{File: file}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	p := look(taken)
	notes := strings.Join(p.Notes, "\n")
	if z := p.Source.Zooms; z.Max != 18 || z.Min > 12 || p.Source.Captured != "" || !strings.Contains(notes, "made on 2024-01-02 by what it says, which is not the day") ||
		!strings.Contains(notes, "NAD83 is drawn as if") || !strings.Contains(notes, "nothing marks where it has no picture") {
		t.Errorf("%+v\n%s", p.Source, notes)
	}
	if r := p.Source.GroundResolution.Meters(); r < 0.499 || r > 0.501 {
		t.Errorf("%g m a pixel", r)
	}
	if p := look(translate(t, plain, "feet.tif", "-a_srs", "EPSG:2232", "-a_ullr", "3140000", "1701000", "3141000", "1700000")); p.Source.GroundResolution.Meters() < 0.50 || p.Source.GroundResolution.Meters() > 0.52 {
		t.Errorf("1000 US survey feet over 600 pixels: %v", p.Source.GroundResolution)
	}
	p = look(sixteen)
	if s := p.Source.Scale; len(s) != 2 || s[0] < 300 || s[1] > 3360 || s[1]-s[0] < 1000 || !strings.Contains(strings.Join(p.Notes, "\n"), "proposed from a sample of the values") {
		t.Errorf("%v\n%v", s, p.Notes)
	}
}

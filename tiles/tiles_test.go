package tiles

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The table of WebMercatorQuad as printed in OGC 17-083r4, Annex D.
var annexD = []struct{ scale, cell float64 }{
	{559082264.0287178, 156543.0339280410}, {279541132.0143589, 78271.51696402048}, {139770566.0071794, 39135.75848201023},
	{69885283.00358972, 19567.87924100512}, {34942641.50179486, 9783.939620502561}, {17471320.75089743, 4891.969810251280},
	{8735660.375448715, 2445.984905125640}, {4367830.187724357, 1222.992452562820}, {2183915.093862179, 611.4962262814100},
	{1091957.546931089, 305.7481131407048}, {545978.7734655447, 152.8740565703525}, {272989.3867327723, 76.43702828517624},
	{136494.6933663862, 38.21851414258813}, {68247.34668319309, 19.10925707129406}, {34123.67334159654, 9.554628535647032},
	{17061.83667079827, 4.777314267823516}, {8530.918335399136, 2.388657133911758}, {4265.459167699568, 1.194328566955879},
	{2132.729583849784, 0.5971642834779395}, {1066.36479192489, 0.2985821417389700}, {533.182395962445, 0.1492910708694850},
	{266.591197981222, 0.0746455354347424}, {133.295598990611, 0.0373227677173712}, {66.6477994953056, 0.0186613838586856},
	{33.3238997476528, 0.0093306919293428},
}

func near(a, b, relative float64) bool { return math.Abs(a-b) <= relative*math.Abs(b) }

func TestWebMercatorQuadTable(t *testing.T) {
	if len(annexD) != MaxZoom+1 {
		t.Fatalf("%d rows for zooms 0 to %d", len(annexD), MaxZoom)
	}
	for z, row := range annexD {
		if !near(ScaleDenominator(z), row.scale, 1e-13) || !near(CellSize(z), row.cell, 1e-13) {
			t.Errorf("z %d: scale %.10f cell %.16f; the standard prints %.10f and %.16f", z, ScaleDenominator(z), CellSize(z), row.scale, row.cell)
		}
	}
}

func TestMBTilesWorkedExample(t *testing.T) {
	// MBTiles 1.3, "Content": XYZ 11/327/791 is stored as row 1256.
	id := ID{11, 327, 791}
	if id.TMSRow() != 1256 {
		t.Errorf("row %d", id.TMSRow())
	}
	if back := (ID{11, 327, id.TMSRow()}).TMSRow(); back != 791 {
		t.Errorf("not its own inverse: %d", back)
	}
}

func TestQuadkey(t *testing.T) {
	// Published with the public tile system text: column 3, row 5, level 3 is "213".
	if k := (ID{3, 3, 5}).Quadkey(); k != "213" {
		t.Errorf("3/3/5: %q", k)
	}
	// From memory: level 10, column 486, row 332.
	if k := (ID{10, 486, 332}).Quadkey(); k != "0313102310" {
		t.Errorf("10/486/332: %q", k)
	}
}

func TestWebMercatorPoints(t *testing.T) {
	// EPSG Guidance Note 7-2, method 1024: 24°22′54.433″N 100°20′00″W is
	// E −11169055.58, N 2800000.00. Second: the PROJ manual's webmerc page.
	cases := []struct{ lon, lat, e, n float64 }{
		{-100 - 20.0/60, 24 + 22.0/60 + 54.433/3600, -11169055.58, 2800000.00},
		{2, 49, 222638.98, 6274861.39},
	}
	for _, c := range cases {
		x, y := Project(c.lon, c.lat)
		world := 2 * math.Pi * EarthRadius
		e, n := (x-0.5)*world, (0.5-y)*world
		if math.Abs(e-c.e) > 0.01 || math.Abs(n-c.n) > 0.01 {
			t.Errorf("%v, %v: %.3f %.3f, published %.2f %.2f", c.lon, c.lat, e, n, c.e, c.n)
		}
	}
}

func TestGroundResolution(t *testing.T) {
	// The public tile system's formula cos(lat)·2π·6378137/(256·2^z); level 1
	// at the equator is printed there as 78271.5170 m.
	if got := GroundResolution(0, 1, 0); math.Abs(got-78271.5170) > 5e-5 {
		t.Errorf("level 1: %.5f", got)
	}
	if got := GroundResolution(40, 20, 256); math.Abs(got-0.1144) > 5e-5 {
		t.Errorf("z 20 at 40°: %.5f m", got)
	}
	if got := GroundResolution(40, 20, 512); math.Abs(got-0.0572) > 5e-5 {
		t.Errorf("512-pixel tiles: %.5f m", got)
	}
}

func TestAt(t *testing.T) {
	cases := []struct {
		lon, lat float64
		zoom     int
		want     ID
	}{
		{-74.0060, 40.7128, 12, ID{12, 1205, 1540}}, // calculated from the formula of OGC 17-083r4, Annex I
		{-74.0060, 40.7128, 18, ID{18, 77182, 98561}},
		{180, 0, 3, ID{3, 7, 4}}, {-180, 90, 3, ID{3, 0, 0}}, {0, -90, 3, ID{3, 4, 7}},
	}
	for _, c := range cases {
		if got := At(c.lon, c.lat, c.zoom); got != c.want {
			t.Errorf("%v, %v at %d: %v, want %v", c.lon, c.lat, c.zoom, got, c.want)
		}
	}
}

func TestBoundsHoldTheirPoints(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		lon, lat, z := r.Float64()*360-180, r.Float64()*170-85, r.IntN(MaxZoom+1)
		id := At(lon, lat, z)
		b := id.Bounds()
		const slack = 1e-9
		if lon < b.West-slack || lon > b.East+slack || lat < b.South-slack || lat > b.North+slack {
			t.Fatalf("%v, %v is not in %v of %v", lon, lat, b, id)
		}
		if z > 0 && !slices.Contains(idSlice(id.Parent().Children()), id) {
			t.Fatalf("%v is no child of its parent", id)
		}
		back, err := ParseID(id.String())
		if err != nil || back != id {
			t.Fatalf("%v read back as %v, %v", id, back, err)
		}
	}
}

func idSlice(a [4]ID) []ID { return a[:] }

func TestCover(t *testing.T) {
	c := NewCover(4, []Span{{3, 5, 7}, {1, 0, 1}, {3, 8, 9}, {3, 6, 6}, {1, 15, 40}, {16, 0, 0}, {2, 9, 8}})
	want := []Span{{1, 0, 1}, {1, 15, 15}, {3, 5, 9}}
	if !slices.Equal(c.Spans(), want) {
		t.Fatalf("spans %v, want %v", c.Spans(), want)
	}
	if c.Count() != 8 {
		t.Errorf("count %d", c.Count())
	}
	all := slices.Collect(c.All())
	if len(all) != 8 || !slices.IsSortedFunc(all, Compare) {
		t.Errorf("enumerated %v", all)
	}
	for x := uint32(0); x < 16; x++ {
		for y := uint32(0); y < 16; y++ {
			if id := (ID{4, x, y}); c.Has(id) != slices.Contains(all, id) {
				t.Errorf("Has(%v) = %v", id, c.Has(id))
			}
		}
	}
	if c.Has(ID{5, 5, 3}) {
		t.Error("a tile of another zoom is not in the cover")
	}
	if b, ok := c.Bounds(); !ok || b.West != -180 || math.Abs(b.North-ID{4, 0, 1}.Bounds().North) > 1e-12 {
		t.Errorf("bounds %v %v", b, ok)
	}
}

func TestZooms(t *testing.T) {
	for _, z := range []Zooms{{-1, 3}, {5, 3}, {0, 25}} {
		if z.Check() == nil {
			t.Errorf("%v was let through", z)
		}
	}
	if got := slices.Collect(Zooms{3, 5}.All()); !slices.Equal(got, []int{3, 4, 5}) {
		t.Errorf("%v", got)
	}
}

func FuzzParseID(f *testing.F) {
	f.Add("11/327/791")
	f.Fuzz(func(t *testing.T, s string) {
		if id, err := ParseID(s); err == nil && !id.Valid() {
			t.Fatalf("%q gave %v", s, id)
		}
	})
}

// TestNativeZoom: the values are calculated from the ground resolution formula
// of OGC 17-083r4, Annex D, at 40° unless named (NAIP is flown at 60 cm).
func TestNativeZoom(t *testing.T) {
	const inch = 0.0254
	cases := []struct {
		lat, resolution float64
		want            int
	}{
		{40, 1, 17}, {25, 1, 18}, {40, 0.6, 18}, {40, 12 * inch, 19}, {40, 9 * inch, 20}, {49, 9 * inch, 20 - 1},
		{40, 6 * inch, 20}, {40, 0.15, 20}, {40, 3 * inch, 21}, {40, 0.05, 22}, {49, 0.05, 21}, {40, 0.025, 23},
		{0, 156543.03392804097, 0}, {0, 1e9, 0},
	}
	for _, c := range cases {
		if got := NativeZoom(c.lat, c.resolution, 256); got != c.want {
			t.Errorf("%v m at %v°: zoom %d, want %d", c.resolution, c.lat, got, c.want)
		}
	}
	// A 6-inch thing is 2.7 pixels at zoom 21 and 5.3 at zoom 22, at 40°.
	if z := ZoomToPlace(40, 6*inch, 2.6, 256); z != 21 {
		t.Errorf("2.6 pixels: zoom %d", z)
	}
	if z := ZoomToPlace(40, 6*inch, 3, 256); z != 22 {
		t.Errorf("3 pixels: zoom %d", z)
	}
}

// TestIntersect holds the intersection against tile by tile.
func TestIntersect(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	random := func() Cover {
		var spans []Span
		for range r.IntN(12) {
			first := r.Uint32N(30)
			spans = append(spans, Span{r.Uint32N(6), first, first + r.Uint32N(8)})
		}
		return NewCover(5, spans)
	}
	met := 0
	for range 2000 {
		a, b := random(), random()
		var want []ID
		for id := range a.All() {
			if b.Has(id) {
				want = append(want, id)
			}
		}
		got := slices.Collect(Intersect(a, b).All())
		if !slices.Equal(got, want) {
			t.Fatalf("%v and %v: %v, want %v", a, b, got, want)
		}
		met += len(got)
	}
	if met == 0 || Intersect(NewCover(4, []Span{{0, 0, 9}}), NewCover(5, []Span{{0, 0, 9}})).Count() != 0 {
		t.Error("nothing was tested, or covers of two zooms met")
	}
}

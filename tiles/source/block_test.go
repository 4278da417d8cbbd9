package source_test

import (
	"math"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/source"
)

func wms(crs, version string, metatile int) source.Source {
	return source.Source{Name: "a", Kind: "wms", CRS: crs, Version: version, Metatile: metatile, TileSize: 256, Zooms: tiles.Zooms{Max: 24},
		Resolved: source.Resolved{Templates: []string{"https://t.example/wms?BBOX={bbox}&WIDTH={pixels}&HEIGHT={pixels}"}}}
}

// corners reads the numbers of BBOX and the width of an address.
func corners(t *testing.T, address string) (box [4]float64, width string) {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	for i, text := range strings.Split(u.Query().Get("BBOX"), ",") {
		if box[i], err = strconv.ParseFloat(text, 64); err != nil {
			t.Fatal(err)
		}
	}
	return box, u.Query().Get("WIDTH")
}

// TestBoxes: axis order by version and reference system. The box of the world
// in EPSG:3857 and the half circumference are those of OGC 17-083r4, Annex D;
// the orders are those of OGC 06-042, 6.7.4 and 7.3.3.6, and OGC 01-068r3.
func TestBoxes(t *testing.T) {
	const half, lat = 20037508.3427892, 85.0511287798
	cases := map[string]struct {
		s    source.Source
		want [4]float64
	}{
		"3857":          {wms("", "1.3.0", 1), [4]float64{-half, -half, half, half}},
		"3857 in 1.1.1": {wms("EPSG:3857", "1.1.1", 1), [4]float64{-half, -half, half, half}},
		"4326":          {wms("EPSG:4326", "1.3.0", 1), [4]float64{-lat, -180, lat, 180}},
		"4326 in 1.1.1": {wms("EPSG:4326", "1.1.1", 1), [4]float64{-180, -lat, 180, lat}},
		"CRS:84":        {wms("CRS:84", "1.3.0", 1), [4]float64{-180, -lat, 180, lat}},
		"many tiles":    {wms("", "1.3.0", 8), [4]float64{-half, -half, half, half}},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			address, err := c.s.BlockAddress(tiles.ID{})
			if err != nil {
				t.Fatal(err)
			}
			got, width := corners(t, address)
			for i := range got {
				if math.Abs(got[i]-c.want[i]) > 1e-7 {
					t.Errorf("box %v, want %v", got, c.want)
				}
			}
			if width != "256" {
				t.Errorf("width %s", width)
			}
		})
	}
}

// TestBlocksTileTheWorld: every tile is in the block that it names, blocks do
// not overlap, and the ground of a block is that of its tiles.
func TestBlocksTileTheWorld(t *testing.T) {
	for _, n := range []int{0, 1, 2, 4, 8} {
		s := wms("", "", n)
		for z := range uint32(5) {
			for x := range uint32(1) << z {
				for y := range uint32(1) << z {
					id := tiles.ID{Z: z, X: x, Y: y}
					first, side := s.Block(id)
					if side != min(max(n, 1), 1<<z) || x-first.X >= uint32(side) || y-first.Y >= uint32(side) || first.X+uint32(side) > 1<<z || first.Y+uint32(side) > 1<<z {
						t.Fatalf("metatile %d, tile %v: block %v of %d", n, id, first, side)
					}
					if again, _ := s.Block(first); again != first {
						t.Fatalf("block %v begins in block %v", first, again)
					}
				}
			}
		}
	}
	s := wms("", "", 4)
	address, err := s.BlockAddress(tiles.ID{Z: 3, X: 4, Y: 0})
	if err != nil {
		t.Fatal(err)
	}
	box, width := corners(t, address)
	want := tiles.ID{Z: 1, X: 1, Y: 0}.Edges() // four by four tiles of zoom 3
	if box != [4]float64{want.West, want.South, want.East, want.North} || width != "1024" {
		t.Errorf("%v, %s px, want %v", box, width, want)
	}
	if _, err := s.BlockAddress(tiles.ID{Z: 3, X: 5}); err == nil {
		t.Error("a tile inside a block was taken for its beginning")
	}
}

// TestBow measures how far a picture drawn in degrees is off inside a tile:
// the formula must hold from above and not by much.
func TestBow(t *testing.T) {
	worst := 0.0
	for _, lat := range []float64{0.01, 20, 40, 60, 75, 84.9} {
		tile := tiles.At(0, lat, 12)
		b := tile.Bounds()
		for i := range 257 {
			row := float64(i)
			_, y := tiles.Project(0, b.North+(b.South-b.North)*row/256)
			off := math.Abs((y*4096-float64(tile.Y))*256 - row)
			worst = max(worst, off)
		}
	}
	if limit := source.Bow(12, 1, 256); worst > limit || worst < 0.9*limit || limit > 0.05 {
		t.Errorf("off by %.4f pixels, the formula says at most %.4f", worst, limit)
	}
	if source.Bow(12, 1, 512) > 0.1 || source.Bow(17, 8, 256) > 0.1 || source.Bow(16, 8, 256) < 0.1 {
		t.Error("the limits of the config do not follow from the formula")
	}
}

func TestOutside(t *testing.T) {
	s := source.Source{Resolved: source.Resolved{Limits: []tiles.Limit{{Zoom: 5, MinRow: 2, MaxRow: 4, MinCol: 7, MaxCol: 7}, {Zoom: 6}}}}
	for id, want := range map[tiles.ID]bool{
		{Z: 5, X: 7, Y: 2}: false, {Z: 5, X: 7, Y: 4}: false, {Z: 5, X: 7, Y: 1}: true, {Z: 5, X: 7, Y: 5}: true,
		{Z: 5, X: 6, Y: 3}: true, {Z: 5, X: 8, Y: 3}: true, {Z: 4}: false, {Z: 6}: false, {Z: 6, X: 1}: true,
	} {
		if s.Outside(id) != want {
			t.Errorf("%v: %v", id, !want)
		}
	}
}

// TestServiceTemplates: names of zooms are escaped, and several templates take
// turns by column and row.
func TestServiceTemplates(t *testing.T) {
	s := source.Source{Name: "a", Kind: "wmts", URL: "https://t.example/", Zooms: tiles.Zooms{Max: 5}, Resolved: source.Resolved{
		Matrix:    map[int]string{2: "EPSG:3857/2 ?"},
		Templates: []string{"https://t.example/{matrix}/{y}/{x}", "https://u.example/?m={matrix}&r={y}"},
	}}
	for id, want := range map[tiles.ID]string{
		{Z: 2, X: 1, Y: 1}: "https://t.example/EPSG:3857%2F2%20%3F/1/1",
		{Z: 2, X: 1, Y: 2}: "https://u.example/?m=EPSG%3A3857%2F2+%3F&r=2",
	} {
		if got, err := s.Address(id); err != nil || got != want {
			t.Errorf("%v: %s, %v, want %s", id, got, err, want)
		}
	}
}

func TestAllowsHost(t *testing.T) {
	t.Setenv("GS_KEY", "secret-77")
	s := source.Source{Name: "a", KeyEnv: "GS_KEY", RedirectHosts: []string{"cdn.example", "b.example:8443"}}
	cases := []struct{ from, to, says string }{
		{"https://t.example/a", "https://t.example/b", ""},
		{"https://t.example/a", "https://T.example:443/b?k=secret-77", ""},
		{"http://t.example/a", "https://t.example/b", ""},
		{"https://t.example/a", "https://cdn.example/b", ""},
		{"https://t.example/a", "https://b.example:8443/b", ""},
		{"https://t.example/a", "http://t.example/b", "not"},
		{"https://t.example/a", "http://cdn.example/b", "encrypted"},
		{"https://t.example/a", "https://t.example:444/b", "redirect_hosts"},
		{"https://t.example/a", "https://cdn.example:444/b", "redirect_hosts"},
		{"https://t.example/a", "https://c.example/b", `redirect_hosts = ["c.example"]`},
		{"https://t.example/a", "https://cdn.example/b?k=secret-77", "key"},
		{"https://t.example/a", "https://cdn.example/{key}", "key"},
		{"https://t.example/a", "file:///etc/passwd", "http and https"},
		{"https://t.example/a", "https://me@t.example/", "http and https"},
		{"https://t.example/a", "https://tile.openstreetmap.org/", "OSMF"},
	}
	for _, c := range cases {
		from, _ := url.Parse(c.from)
		to, _ := url.Parse(c.to)
		err := s.AllowsHost(from, to)
		if (err == nil) != (c.says == "") || err != nil && !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s to %s: %v", c.from, c.to, err)
		}
		if err != nil && strings.Contains(err.Error(), "secret") {
			t.Errorf("the key is in %q", err)
		}
	}
}

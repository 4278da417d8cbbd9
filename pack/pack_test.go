package pack

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"image"
	"image/color"
	"image/png"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"groundsheet/pack/record"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// flat is a one-colored tile.
func flat(t testing.TB, shade uint8, kind raster.Kind) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 256, 256))
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = shade, shade/2, 255-shade, 255
	}
	data, err := raster.Encode(img, kind)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

var fetched = time.Date(2026, 11, 20, 8, 0, 0, 0, time.UTC)

// held is a store in memory.
type held map[tiles.ID]store.Held

func (h held) put(id tiles.ID, data []byte, media string) {
	h[id] = store.Held{
		Tile: tiles.Tile{ID: id, Data: data, Origin: tiles.Origin{Fetched: fetched, ETag: `"` + id.String() + `"`}},
		Hash: sha256.Sum256(data), Bytes: len(data), Media: media, Hole: data == nil,
	}
}

// isHole reports whether a pack names a hole at a tile.
func isHole(t *testing.T, p *Pack, id tiles.ID) bool {
	t.Helper()
	for h, err := range p.In(t.Context(), tiles.NewCover(int(id.Z), []tiles.Span{{Row: id.Y, First: id.X, Last: id.X}}), false) {
		if err != nil {
			t.Fatal(err)
		}
		return h.Hole
	}
	return false
}

func (h held) In(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
	return func(yield func(store.Held, error) bool) {
		for id := range c.All() {
			if r, ok := h[id]; ok && !yield(r, nil) {
				return
			}
		}
	}
}

func content(h held, covers ...tiles.Cover) Content {
	return Content{
		About: About{Name: "Test", Units: "us", TileSize: 256, Source: AboutSource{Name: "s", Attribution: "A <b> & C"},
			Tolerance: &Tolerance{EachSide: 0.6096, Rule: "rule"}, Ticket: &Ticket{"T", "2031-01-31"}},
		Bounds: tiles.Box{West: -105.01, South: 40, East: -105, North: 40.01},
		Covers: covers, Area: []byte(`{"type":"FeatureCollection","features":[]}`), Tiles: h,
	}
}

func write(t *testing.T, c Content) (*Pack, Written) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "a b%20?#.mbtiles") // a name that a careless address would lose
	w, err := Write(t.Context(), path, c, WriteOptions{Now: func() time.Time { return fetched.Add(time.Hour) }})
	if err != nil {
		t.Fatal(err)
	}
	p, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.Close() })
	return p, w
}

// TestMBTiles checks the file against MBTiles 1.3, with the standard's own
// worked example: XYZ 11/327/791 is stored as row 1256.
func TestMBTiles(t *testing.T) {
	h := held{}
	id := tiles.ID{Z: 11, X: 327, Y: 791}
	h.put(id, flat(t, 10, "png"), "png")
	p, w := write(t, content(h, tiles.NewCover(11, []tiles.Span{{Row: 791, First: 327, Last: 327}})))
	if w.Tiles != 1 || w.Shared {
		t.Errorf("%+v", w)
	}
	var z, x, row int
	if err := p.db.QueryRow(`SELECT zoom_level, tile_column, tile_row FROM tiles`).Scan(&z, &x, &row); err != nil || z != 11 || x != 327 || row != 1256 {
		t.Errorf("stored as %d/%d/%d, %v", z, x, row, err)
	}
	for name, want := range map[string]string{
		"name": "Test", "format": "png", "minzoom": "11", "maxzoom": "11", "type": "baselayer", "version": "1",
		"bounds": "-105.010000000,40.000000000,-105.000000000,40.010000000", "attribution": "A &lt;b&gt; &amp; C",
	} {
		var got string
		if err := p.db.QueryRow(`SELECT value FROM metadata WHERE name=?`, name).Scan(&got); err != nil || got != want {
			t.Errorf("metadata %s = %q, %v; want %q", name, got, err, want)
		}
	}
	var columns []string
	rows, err := p.db.Query(`SELECT name FROM pragma_table_info('metadata')`)
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		var c string
		if err := rows.Scan(&c); err != nil {
			t.Fatal(err)
		}
		columns = append(columns, c)
	}
	if !slices.Equal(columns, []string{"name", "value"}) {
		t.Errorf("metadata has columns %v: the standard wants exactly two", columns)
	}
	header, err := os.ReadFile(p.Path)
	if err != nil {
		t.Fatal(err)
	}
	if id := binary.BigEndian.Uint32(header[68:]); id != 0x4d504258 {
		t.Errorf("application id %#x", id)
	}
	if header[18] != 1 || header[19] != 1 {
		t.Errorf("file format versions %d and %d: a reader on a read-only disk needs 1", header[18], header[19])
	}
}

func TestWhatGoesInComesOut(t *testing.T) {
	h := held{}
	deep := tiles.NewCover(12, []tiles.Span{{Row: 1000, First: 800, Last: 803}, {Row: 1001, First: 801, Last: 802}})
	shallow := tiles.NewCover(11, []tiles.Span{{Row: 500, First: 400, Last: 401}})
	shade := uint8(0)
	for _, c := range []tiles.Cover{shallow, deep} {
		for id := range c.All() {
			h.put(id, flat(t, shade, "jpg"), "jpg")
			shade += 20
		}
	}
	hole := tiles.ID{Z: 12, X: 803, Y: 1000}
	h.put(hole, nil, "")
	p, w := write(t, content(h, shallow, deep))
	if w.Tiles != 7 || w.Holes != 1 || p.Info.Format != "jpg" || p.Info.Zooms != (tiles.Zooms{Min: 11, Max: 12}) {
		t.Errorf("%+v %+v", w, p.Info)
	}
	for id, r := range h {
		data, err := p.Tile(t.Context(), id)
		if err != nil || !bytes.Equal(data, r.Data) {
			t.Errorf("%v: %d bytes, %v", id, len(data), err)
		}
	}
	for pair, err := range store.Compare(t.Context(), p, true, shallow, deep) {
		r := h[pair.ID]
		if err != nil || !pair.Has || pair.Held.Hole != (pair.ID == hole) || !bytes.Equal(pair.Held.Data, r.Data) {
			t.Errorf("%v: %+v, %v", pair.ID, pair.Held, err)
		}
		if !pair.Held.Hole && pair.Held.Hash != r.Hash {
			t.Errorf("%v: hash %x", pair.ID, pair.Held.Hash)
		}
	}
	covers, err := p.Wanted(t.Context())
	if err != nil || len(covers) != 2 || !slices.Equal(covers[1].Spans(), deep.Spans()) || covers[0].Zoom() != 11 {
		t.Errorf("wanted %v, %v", covers, err)
	}
	holes, err := p.Holes(t.Context())
	if err != nil || holes != 1 || !isHole(t, p, hole) {
		t.Errorf("holes %v %v", holes, err)
	}
	from, data, err := p.Nearest(t.Context(), tiles.ID{Z: 26, X: hole.X<<14 + 5, Y: hole.Y << 14})
	if err != nil || from != hole.Parent() || !bytes.Equal(data, h[hole.Parent()].Data) {
		t.Errorf("nearest to the hole: %v, %d bytes, %v", from, len(data), err)
	}
	if a := p.Info.About; *a.Tolerance != (Tolerance{EachSide: 0.6096, Rule: "rule"}) || *a.Ticket != (Ticket{"T", "2031-01-31"}) {
		t.Errorf("about %+v", a)
	}
	if a := p.Info.About; a.Holes != 1 || a.Tiles != 7 || a.Fetched == nil || !a.Fetched.Oldest.Equal(fetched) {
		t.Errorf("about %+v", a)
	}
	if lines, err := p.Quick(t.Context()); err != nil || len(lines) > 0 {
		t.Errorf("quick check: %v %v", lines, err)
	}
}

func TestRepeatedImagesAreKeptOnce(t *testing.T) {
	h := held{}
	c := tiles.NewCover(10, []tiles.Span{{Row: 7, First: 0, Last: 99}})
	same := flat(t, 9, "png")
	for id := range c.All() {
		h.put(id, same, "png")
	}
	p, w := write(t, content(h, c))
	var images int
	if err := p.db.QueryRow(`SELECT count(*) FROM groundsheet_image`).Scan(&images); err != nil || images != 1 || !w.Shared || w.Tiles != 100 {
		t.Errorf("%d images, %+v, %v", images, w, err)
	}
	if data, err := p.Tile(t.Context(), tiles.ID{Z: 10, X: 50, Y: 7}); err != nil || !bytes.Equal(data, same) {
		t.Errorf("%d bytes, %v", len(data), err)
	}
	var kind string
	if err := p.db.QueryRow(`SELECT type FROM sqlite_schema WHERE name='tiles'`).Scan(&kind); err != nil || kind != "view" {
		t.Errorf("tiles is a %s, %v", kind, err)
	}
}

// TestMixedKindsBecomeOne: MBTiles declares one format, and transparency stays.
func TestMixedKindsBecomeOne(t *testing.T) {
	h := held{}
	glass := image.NewNRGBA(image.Rect(0, 0, 256, 256))
	glass.SetNRGBA(3, 4, color.NRGBA{200, 100, 50, 128})
	var b bytes.Buffer
	if err := png.Encode(&b, glass); err != nil {
		t.Fatal(err)
	}
	h.put(tiles.ID{Z: 5, X: 1, Y: 1}, flat(t, 80, "jpg"), "jpg")
	h.put(tiles.ID{Z: 5, X: 2, Y: 1}, b.Bytes(), "png")
	p, w := write(t, content(h, tiles.NewCover(5, []tiles.Span{{Row: 1, First: 1, Last: 2}})))
	if p.Info.Format != "png" || w.Recoded != 1 {
		t.Fatalf("%s %+v", p.Info.Format, w)
	}
	was, err := p.Tile(t.Context(), tiles.ID{Z: 5, X: 1, Y: 1})
	if err != nil {
		t.Fatal(err)
	}
	if pic, err := raster.Prove(was, 256); err != nil || pic.Kind != "png" {
		t.Errorf("%v %v", pic, err)
	}
	if kept, err := p.Tile(t.Context(), tiles.ID{Z: 5, X: 2, Y: 1}); err != nil || !bytes.Equal(kept, b.Bytes()) {
		t.Error("a tile that had the format already was changed")
	}
}

// TestOpaqueMixBecomesJPEG: a few PNGs without transparency among JPEGs do not
// make the pack many times as large.
func TestOpaqueMixBecomesJPEG(t *testing.T) {
	h := held{}
	h.put(tiles.ID{Z: 5, X: 1, Y: 1}, flat(t, 80, "jpg"), "jpg")
	h.put(tiles.ID{Z: 5, X: 2, Y: 1}, flat(t, 90, "png"), "png")
	p, w := write(t, content(h, tiles.NewCover(5, []tiles.Span{{Row: 1, First: 1, Last: 2}})))
	if p.Info.Format != "jpg" || w.Recoded != 1 {
		t.Errorf("%s %+v", p.Info.Format, w)
	}
}

func TestOverlaysTravelInside(t *testing.T) {
	o, err := record.Read([]byte(`{"type":"Feature","geometry":{"type":"Point","coordinates":[-105.0012345678,40.0012345678]},"properties":{"depth":"3ft 5in"}}`),
		record.Meta{File: "w.geojson", Title: "Water", Utility: "water", QualityLevel: "D"}, "1-water")
	if err != nil {
		t.Fatal(err)
	}
	h := held{}
	h.put(tiles.ID{Z: 3, X: 1, Y: 1}, flat(t, 1, "png"), "png")
	c := content(h, tiles.NewCover(3, []tiles.Span{{Row: 1, First: 1, Last: 1}}))
	if c.Overlays, err = Overlays([]record.Overlay{o}, c.Bounds); err != nil {
		t.Fatal(err)
	}
	p, _ := write(t, c)
	if len(p.Info.Overlays) != 1 || p.Info.Overlays[0].Colour != "#005A98" || p.Info.Overlays[0].Readings != 1 || p.Info.Overlays[0].AccuracyM != nil {
		t.Errorf("%+v", p.Info.Overlays)
	}
	body, err := p.OverlayGeoJSON(t.Context(), "1-water")
	if err != nil || !bytes.Contains(body, []byte("-105.0012345")) || !bytes.Contains(body, []byte(`"depth_m":1.0414`)) {
		t.Errorf("%s %v", body, err)
	}
	if none, err := p.OverlayGeoJSON(t.Context(), "x' OR 1=1 --"); err != nil || none != nil {
		t.Errorf("%s %v", none, err)
	}
}

func BenchmarkWrite(b *testing.B) {
	h := held{}
	c := tiles.NewCover(14, []tiles.Span{{Row: 100, First: 0, Last: 1999}})
	for id := range c.All() {
		data := make([]byte, 18000)
		binary.BigEndian.PutUint32(data, id.X)
		h.put(id, data, "jpg")
	}
	path := filepath.Join(b.TempDir(), "b.mbtiles")
	for b.Loop() {
		if _, err := Write(b.Context(), path, content(h, c), WriteOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(2000*b.N)/b.Elapsed().Seconds(), "tiles/s")
}

func BenchmarkTile(b *testing.B) {
	h := held{}
	c := tiles.NewCover(14, []tiles.Span{{Row: 100, First: 0, Last: 1999}})
	for id := range c.All() {
		data := make([]byte, 18000)
		binary.BigEndian.PutUint32(data, id.X)
		h.put(id, data, "jpg")
	}
	path := filepath.Join(b.TempDir(), "b.mbtiles")
	if _, err := Write(b.Context(), path, content(h, c), WriteOptions{}); err != nil {
		b.Fatal(err)
	}
	p, err := Open(b.Context(), path)
	if err != nil {
		b.Fatal(err)
	}
	defer p.Close()
	for i := uint32(0); b.Loop(); i++ {
		if _, err := p.Tile(b.Context(), tiles.ID{Z: 14, X: i * 7 % 2000, Y: 100}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestTilesAreHashedOnce: reading from the store proved the hash, so the writer
// takes it as it is; only an image that it changed is hashed.
func TestTilesAreHashedOnce(t *testing.T) {
	h := held{}
	c := tiles.NewCover(10, []tiles.Span{{Row: 7, First: 0, Last: 1}})
	for id := range c.All() {
		h.put(id, flat(t, uint8(id.X), "jpg"), "jpg")
		r := h[id]
		r.Hash = [32]byte{byte(id.X) + 1} // that of no image: whoever hashes gets another
		h[id] = r
	}
	for quality, told := range map[int]bool{0: true, 50: false} {
		asked := content(h, c)
		asked.Quality = quality
		p, _ := write(t, asked)
		for pair, err := range store.Compare(t.Context(), p, false, c) {
			if err != nil || (pair.Held.Hash == h[pair.ID].Hash) != told {
				t.Errorf("quality %d, %v: %x %v", quality, pair.ID, pair.Held.Hash, err)
			}
		}
	}
}

package serve

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"iter"
	"net/http"
	"path/filepath"
	"testing"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

// block is ground of wide×high tiles at zoom 16, with a picture of one color
// each; out is left out.
type block struct {
	wide, high uint32
	kind       raster.Kind
	out        map[tiles.ID]bool
	copies     string // whether phones may keep it
}

var corner16 = tiles.ID{Z: 16, X: 13652, Y: 24808} // its ancestors up to zoom 14 begin there too

func colorOf(id tiles.ID) color.RGBA {
	return color.RGBA{uint8(40 * (id.X - corner16.X)), uint8(60 * (id.Y - corner16.Y)), 90, 255}
}

func (b block) write(t testing.TB) string {
	t.Helper()
	var spans []tiles.Span
	for y := range b.high {
		spans = append(spans, tiles.Span{Row: corner16.Y + y, First: corner16.X, Last: corner16.X + b.wide - 1})
	}
	first, last := corner16.Bounds(), tiles.ID{Z: 16, X: corner16.X + b.wide - 1, Y: corner16.Y + b.high - 1}.Bounds()
	path := filepath.Join(t.TempDir(), "block.mbtiles")
	_, err := pack.Write(t.Context(), path, pack.Content{
		About:  pack.About{Name: "Block", TileSize: 256, Source: pack.AboutSource{CopiesOnPhones: b.copies}},
		Bounds: tiles.Box{West: first.West, North: first.North, East: last.East - 1e-9, South: last.South + 1e-9},
		Covers: []tiles.Cover{tiles.NewCover(16, spans)}, Area: []byte(`{"type":"FeatureCollection","features":[]}`),
		Tiles: store.CoverFunc(func(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
			return func(yield func(store.Held, error) bool) {
				for id := range c.All() {
					img := image.NewRGBA(image.Rect(0, 0, 256, 256))
					draw.Draw(img, img.Rect, image.NewUniform(colorOf(id)), image.Point{}, draw.Src)
					data, err := raster.Encode(img, b.kind)
					r := store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: string(b.kind)}
					if b.out[id] {
						r = store.Held{Tile: tiles.Tile{ID: id}, Hole: true}
					}
					if !yield(r, err) {
						return
					}
				}
			}
		}),
	}, pack.WriteOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// TestAboveTheShallowest: tiles are put together from those under them, as far
// as the pack lies in two by two.
func TestAboveTheShallowest(t *testing.T) {
	missing := tiles.ID{Z: 16, X: corner16.X + 1, Y: corner16.Y + 2}
	for _, kind := range []raster.Kind{raster.PNG, raster.JPG} {
		h := start(t, block{wide: 5, high: 4, kind: kind, out: map[tiles.ID]bool{missing: true}}.write(t))
		for up := uint32(1); up <= 2; up++ {
			part := 256 >> up
			for y := range uint32(8) {
				for x := range uint32(8) {
					under := tiles.ID{Z: 16, X: corner16.X + x, Y: corner16.Y + y}
					resp, body := get(t, fmt.Sprintf("%s/packs/block/tiles/%s", h.URL, under.Ancestor(up)))
					if above := under.Ancestor(up).X<<up > corner16.X+4 || under.Ancestor(up).Y<<up > corner16.Y+3; above {
						if resp.StatusCode != 204 {
							t.Errorf("beside the pack: %s", resp.Status)
						}
						continue
					}
					img, err := raster.Decode(body)
					if err != nil || resp.Header.Get("Groundsheet-Shrunk-From") != "16" || resp.Header.Get("Groundsheet-Enlarged-From") != "" {
						t.Fatalf("%v: %s %v %v", under, resp.Status, err, resp.Header)
					}
					mask := uint32(1)<<up - 1
					at := img.At(int(under.X&mask)*part+part/2, int(under.Y&mask)*part+part/2)
					want := colorOf(under)
					if x > 4 || y > 3 || under == missing {
						want = color.RGBA{}
					}
					got := color.RGBAModel.Convert(at).(color.RGBA)
					if d := int(got.R) - int(want.R); d < -4 || d > 4 || got.A != want.A {
						t.Errorf("%v %d up: %v, want %v", under, up, got, want)
					}
				}
			}
		}
		whole, _ := get(t, fmt.Sprintf("%s/packs/block/tiles/%s", h.URL, corner16.Parent()))
		if whole.Header.Get("Content-Type") != kind.MediaType() {
			t.Errorf("a whole tile of %s is %s", kind, whole.Header.Get("Content-Type"))
		}
		// At zoom 14 the pack lies in two tiles: nothing is shrunk beyond.
		if resp, _ := get(t, fmt.Sprintf("%s/packs/block/tiles/%s", h.URL, corner16.Ancestor(3))); resp.StatusCode != 204 {
			t.Errorf("zoom 13: %s", resp.Status)
		}
	}
}

// TestHotTiles: from memory comes what was packed, and nothing of an old version
// stays there.
func TestHotTiles(t *testing.T) {
	path := makePack(t, "Site one")
	s, h := looked(t, nil, path)
	urls := []string{h.URL + "/packs/site-one/tiles/" + deepest17.String(), h.URL + "/packs/site-one/tiles/" + deepest17.Children()[2].String()}
	for _, url := range urls {
		var first []byte
		var tag string
		for i := range 4 {
			resp, body := get(t, url)
			if i == 0 {
				first, tag = body, resp.Header.Get("ETag")
			}
			if !bytes.Equal(body, first) || resp.Header.Get("ETag") != tag || resp.ContentLength != int64(len(first)) {
				t.Errorf("answer %d: %v", i, resp.Header)
			}
		}
	}
	if n, _ := s.tiles.Cached(); n != 2 {
		t.Errorf("%d tiles are cached", n)
	}
	rename(t, makePack(t, "Site two"), path)
	looks(t, s)
	if n, _ := s.tiles.Cached(); n != 0 {
		t.Errorf("%d tiles of a pack that is gone are cached", n)
	}
}

// TestHead: the headers of GET, and no body.
func TestHead(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	for _, id := range []tiles.ID{deepest17, deepest17.Children()[1]} {
		url := h.URL + "/packs/site-one/tiles/" + id.String() + ".png"
		want, body := get(t, url)
		req, err := http.NewRequestWithContext(t.Context(), http.MethodHead, url, nil)
		if err != nil {
			t.Fatal(err)
		}
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		for _, key := range []string{"ETag", "Content-Type", "Cache-Control", "X-Content-Type-Options", "Groundsheet-Enlarged-From"} {
			if resp.Header.Get(key) != want.Header.Get(key) {
				t.Errorf("%s: %q, GET has %q", key, resp.Header.Get(key), want.Header.Get(key))
			}
		}
		if resp.StatusCode != 200 || resp.ContentLength != int64(len(body)) {
			t.Errorf("%s, %d bytes of %d", resp.Status, resp.ContentLength, len(body))
		}
	}
}

// TestUnchanged: If-None-Match as RFC 9110, 13.1.2 has it.
func TestUnchanged(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	url := h.URL + "/packs/site-one/tiles/" + deepest17.String() + ".png"
	resp, _ := get(t, url)
	tag := resp.Header.Get("ETag")
	for held, want := range map[string]int{tag: 304, "W/" + tag: 304, `"a", ` + tag: 304, `"a"`: 200, "": 200, tag[1:]: 200} {
		if resp, _ := get(t, url, "If-None-Match", held); resp.StatusCode != want || want == 304 && resp.Header.Get("ETag") != tag {
			t.Errorf("%s: %s", held, resp.Status)
		}
	}
}

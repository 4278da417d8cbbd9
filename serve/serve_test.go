package serve

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"image"
	"io"
	"iter"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/record"
	"groundsheet/pack/record/derive"
	"groundsheet/serve/listen"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/sqlite"
	"groundsheet/tiles/store"
)

// quarters is a tile whose four quarters have four colors.
func quarters(t testing.TB) []byte {
	t.Helper()
	data, err := raster.Encode(quartersImage(), "png")
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func quartersImage() image.Image {
	img := image.NewRGBA(image.Rect(0, 0, 256, 256))
	for y := range 256 {
		for x := range 256 {
			i := img.PixOffset(x, y)
			img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = uint8(x/128*200), uint8(y/128*200), 40, 255
		}
	}
	return img
}

var (
	deepest17 = tiles.At(-105.0005, 40.0005, 17)
	page      = fstest.MapFS{
		"index.html": {Data: []byte("<!doctype html><title>map</title>")},
		"app.js":     {Data: []byte(strings.Repeat("let a = 1;\n", 500))},
		".keep":      {},
	}
)

// makePack writes a pack with one tile at zooms 16 and 17 and one overlay.
func makePack(t testing.TB, name string) string { return makePackOf(t, name, nil) }

// packed are records as a pack of a box holds them.
func packed(t testing.TB, box tiles.Box, records ...record.Overlay) []pack.PackedOverlay {
	t.Helper()
	all, err := pack.Overlays(records, box)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func makePackOf(t testing.TB, name string, known *derive.Result) string {
	return makePackHome(t, name, known)
}

// makePackHome makes a pack to which books had come home.
func makePackHome(t testing.TB, name string, known *derive.Result, home ...pack.BookHome) string {
	t.Helper()
	data := quarters(t)
	records := func(_ context.Context, c tiles.Cover, _ bool) iter.Seq2[store.Held, error] {
		return func(yield func(store.Held, error) bool) {
			for id := range c.All() {
				r := store.Held{Tile: tiles.Tile{ID: id, Data: data}, Hash: sha256.Sum256(data), Bytes: len(data), Media: "png"}
				if !yield(r, nil) {
					return
				}
			}
		}
	}
	o, err := record.Read([]byte(`{"type":"Feature","geometry":{"type":"Point","coordinates":[-105.0005,40.0005]},"properties":{"depth":"3ft 5in","note":"</script><b>x"}}`),
		record.Meta{File: "w.geojson", Utility: "water"}, "1-water")
	if err != nil {
		t.Fatal(err)
	}
	one := func(id tiles.ID) tiles.Cover {
		return tiles.NewCover(int(id.Z), []tiles.Span{{Row: id.Y, First: id.X, Last: id.X}})
	}
	b := deepest17.Bounds()
	path := filepath.Join(t.TempDir(), "p.mbtiles")
	_, err = pack.Write(t.Context(), path, pack.Content{
		About:  pack.About{Name: name, Units: "us", TileSize: 256, Source: pack.AboutSource{Attribution: "Survey <b>&</b> Co"}, ExpectedMissing: []string{"gas"}, Home: home},
		Bounds: b, Covers: []tiles.Cover{one(deepest17.Parent()), one(deepest17)}, Overlays: packed(t, b, o), Derived: known,
		Area:  []byte(`{"type":"FeatureCollection","features":[]}`),
		Tiles: store.CoverFunc(records),
	}, pack.WriteOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

func start(t testing.TB, paths ...string) *httptest.Server {
	t.Helper()
	s, err := Open(t.Context(), paths, Options{Page: page})
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(s)
	t.Cleanup(func() { h.Close(); _ = s.Close() })
	return h
}

func get(t testing.TB, url string, header ...string) (*http.Response, []byte) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := (&http.Transport{DisableCompression: true}).RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp, body
}

func documentAt(t testing.TB, url string) map[string]any {
	t.Helper()
	resp, body := get(t, url)
	var v map[string]any
	if err := json.Unmarshal(body, &v); err != nil || resp.StatusCode != 200 {
		t.Fatalf("%s: %s %v %s", url, resp.Status, err, body)
	}
	return v
}

// TestTileJSON checks what TileJSON 3.0.0 requires: tilejson, tiles (absolute),
// vector_layers; zooms 0 to 30 in order; center within bounds and zooms.
func TestTileJSON(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	v := documentAt(t, h.URL+"/packs/site-one/tilejson.json")
	url := fmt.Sprint(v["tiles"].([]any)[0])
	if v["tilejson"] != "3.0.0" || v["scheme"] != "xyz" || v["minzoom"] != 16.0 || v["shrunk_zoom"] != 16.0 || v["maxzoom"] != 17.0 || v["vector_layers"] == nil {
		t.Errorf("%v", v)
	}
	if !strings.HasPrefix(url, h.URL+"/packs/site-one/tiles/{z}/{x}/{y}.png?v=") {
		t.Errorf("the address is not absolute under the host that was asked: %s", url)
	}
	bounds, center := v["bounds"].([]any), v["center"].([]any)
	if len(bounds) != 4 || center[0].(float64) < bounds[0].(float64) || center[0].(float64) > bounds[2].(float64) || center[2] != 17.0 {
		t.Errorf("bounds %v center %v", bounds, center)
	}
	if v["attribution"] != "Survey &lt;b&gt;&amp;&lt;/b&gt; Co" {
		t.Errorf("attribution may be taken for HTML: %v", v["attribution"])
	}
}

func TestTiles(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	url := func(id tiles.ID) string { return h.URL + "/packs/site-one/tiles/" + id.String() + ".png" }
	resp, body := get(t, url(deepest17))
	if resp.StatusCode != 200 || resp.Header.Get("Content-Type") != "image/png" || !bytes.Equal(body, quarters(t)) || resp.Header.Get("Groundsheet-Enlarged-From") != "" {
		t.Fatalf("%s %v", resp.Status, resp.Header)
	}
	if resp.Header.Get("Cache-Control") != "no-cache" {
		t.Errorf("an address without the pack's version may be kept: %s", resp.Header.Get("Cache-Control"))
	}
	named := strings.NewReplacer("{z}", "17", "{x}", fmt.Sprint(deepest17.X), "{y}", fmt.Sprint(deepest17.Y)).
		Replace(documentAt(t, h.URL+"/packs/site-one/tilejson.json")["tiles"].([]any)[0].(string))
	if versioned, _ := get(t, named); versioned.Header.Get("Cache-Control") != "private, max-age=86400" {
		t.Errorf("an address with the pack's version is not kept: %v", versioned.Header)
	}
	again, empty := get(t, url(deepest17), "If-None-Match", resp.Header.Get("ETag"))
	if again.StatusCode != 304 || len(empty) > 0 {
		t.Errorf("conditional: %s, %d bytes", again.Status, len(empty))
	}
	if none, _ := get(t, url(tiles.ID{Z: 17, X: 5, Y: 5})); none.StatusCode != 204 {
		t.Errorf("a place outside the pack: %s", none.Status)
	}
	if none, _ := get(t, url(tiles.ID{Z: 3, X: 5, Y: 5})); none.StatusCode != 204 {
		t.Errorf("a zoom above the pack: %s", none.Status)
	}
	for _, bad := range []string{"31/0/0.png", "17/131072/0.png", "17/-1/0.png", "a/0/0.png", "17/0/.png", "17/0/99999999999.png"} {
		if resp, _ := get(t, h.URL+"/packs/site-one/tiles/"+bad); resp.StatusCode != 404 {
			t.Errorf("%s: %s", bad, resp.Status)
		}
	}
}

// TestHostileTiles: what is no image is not sent, and is not kept by a phone.
func TestHostileTiles(t *testing.T) {
	path := makePack(t, "Site one")
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
	if _, err := db.Exec(`DROP VIEW tiles; CREATE TABLE tiles AS SELECT zoom_level, tile_column, tile_row, CAST('<html><script>alert(1)</script>' AS blob) AS tile_data FROM groundsheet_place`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	h := start(t, path)
	for _, id := range []tiles.ID{deepest17, {Z: 18, X: deepest17.X * 2, Y: deepest17.Y * 2}} {
		resp, body := get(t, h.URL+"/packs/site-one/tiles/"+id.String()+".png")
		if resp.StatusCode != 500 || bytes.Contains(body, []byte("script")) || resp.Header.Get("Cache-Control") != "no-store" || resp.Header.Get("ETag") != "" {
			t.Errorf("%v: %s %v %s", id, resp.Status, resp.Header, body)
		}
	}
}

// TestPackedAgain: a new pack under the same name has other ETags.
func TestPackedAgain(t *testing.T) {
	tag := func(path string) string {
		resp, _ := get(t, start(t, path).URL+"/packs/site-one/tiles/"+deepest17.String()+".png")
		return resp.Header.Get("ETag")
	}
	if a, b := tag(makePack(t, "Site one")), tag(makePack(t, "Site one")); a == b || a == "" {
		t.Errorf("two packings share the ETag %s", a)
	}
}

// TestBeyondTheDeepest: enlarged from the parent, to the right quarter.
func TestBeyondTheDeepest(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	for down := uint32(1); down <= 13; down++ {
		for corner := range uint32(4) {
			last := uint32(1)<<down - 1
			dx, dy := corner%2, corner/2
			id := tiles.ID{Z: 17 + down, X: deepest17.X<<down + dx*last, Y: deepest17.Y<<down + dy*last}
			resp, body := get(t, fmt.Sprintf("%s/packs/site-one/tiles/%d/%d/%d.png", h.URL, id.Z, id.X, id.Y))
			img, err := raster.Decode(body)
			if err != nil || resp.Header.Get("Groundsheet-Enlarged-From") != deepest17.String() {
				t.Fatalf("%v: %s %v from %s", id, resp.Status, err, resp.Header.Get("Groundsheet-Enlarged-From"))
			}
			r, g, _, _ := img.At(128, 128).RGBA()
			if r>>8 != dx*200 || g>>8 != dy*200 || img.Bounds().Dx() != 256 {
				t.Errorf("%v: colour %d %d, want %d %d", id, r>>8, g>>8, dx*200, dy*200)
			}
		}
	}
}

func TestDocuments(t *testing.T) {
	h := start(t, makePack(t, "Site one"), makePack(t, "Site one"))
	packs := documentAt(t, h.URL+"/packs.json")["packs"].([]any)
	if len(packs) != 2 || packs[0].(map[string]any)["id"] != "site-one-2" { // packed later
		t.Fatalf("%v", packs)
	}
	about := documentAt(t, h.URL+packs[0].(map[string]any)["about"].(string))
	if about["deepest_zoom"] != 17.0 || about["units"] != "us" || len(about["cautions"].([]any)) < 5 || about["expected_missing"].([]any)[0] != "gas" {
		t.Errorf("%v", about)
	}
	for _, key := range []string{"tilejson", "area", "overlays"} {
		documentAt(t, h.URL+about[key].(string))
	}
	list := documentAt(t, h.URL+about["overlays"].(string))["overlays"].([]any)
	o := list[0].(map[string]any)
	if o["colour"] != "#005A98" || o["letter"] != "W" || o["quality_level"] != "" || o["accuracy_m"] != nil {
		t.Errorf("%v", o)
	}
	states := documentAt(t, h.URL+about["overlays"].(string))["states"].([]any)
	if s := states[0].(map[string]any); len(states) != 3 || s["state"] != "abandoned" || s["word"] != "abandoned" || len(s["strokes"].([]any)) != 2 || s["hollow"] != false {
		t.Errorf("%v", states)
	}
	features := documentAt(t, h.URL+o["url"].(string))["features"].([]any)
	if d := features[0].(map[string]any)["properties"].(map[string]any)["depth_m"]; d != 1.0414 {
		t.Errorf("depth %v", d)
	}
	for _, path := range []string{"/packs/none/about.json", "/packs/site-one/overlays/9.geojson", "/packs/site-one/overlays/1-water", "/other", "/packs/site-one/overlays/..%2F..%2Fetc%2Fpasswd", "/.keep"} {
		if resp, _ := get(t, h.URL+path); resp.StatusCode != 404 {
			t.Errorf("%s: %s", path, resp.Status)
		}
	}
}

// TestPage: served from memory, compressed, under a policy that lets nothing
// be loaded from anywhere else.
func TestPage(t *testing.T) {
	h := start(t, makePack(t, "Site one"))
	resp, body := get(t, h.URL+"/", "Accept-Encoding", "gzip, br")
	if resp.StatusCode != 200 || !strings.Contains(resp.Header.Get("Content-Security-Policy"), "default-src 'self'") || resp.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%s %v", resp.Status, resp.Header)
	}
	if !strings.HasPrefix(resp.Header.Get("Content-Type"), "text/html") || len(body) == 0 {
		t.Errorf("%v", resp.Header)
	}
	small, packed := get(t, h.URL+"/app.js", "Accept-Encoding", "gzip")
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err, small.Header)
	}
	if plain, err := io.ReadAll(z); err != nil || !bytes.Equal(plain, page["app.js"].Data) {
		t.Errorf("%d bytes, %v", len(plain), err)
	}
	large, plain := get(t, h.URL+"/app.js", "Accept-Encoding", "gzip;q=0")
	if large.Header.Get("ETag") == small.Header.Get("ETag") || !bytes.Equal(plain, page["app.js"].Data) {
		t.Error("the two forms of a file share an ETag")
	}
	if resp, _ := get(t, h.URL+"/app.js", "If-None-Match", large.Header.Get("ETag")); resp.StatusCode != 304 {
		t.Errorf("conditional: %s", resp.Status)
	}
}

func TestListenStopsGracefully(t *testing.T) {
	s, err := Open(t.Context(), []string{makePack(t, "Site one")}, Options{Page: page})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, cancel := context.WithCancel(t.Context())
	ready := make(chan net.Addr, 1)
	done := make(chan error, 1)
	go func() { done <- s.Listen(ctx, "127.0.0.1:0", func(o listen.Access) { ready <- o.Addr }) }()
	addr := <-ready
	if resp, body := get(t, "http://"+addr.String()+"/healthz"); resp.StatusCode != 200 || string(body) != "ok\n" {
		t.Errorf("%s %q", resp.Status, body)
	}
	if err := s.Listen(ctx, addr.String(), func(listen.Access) {}); err == nil || !strings.Contains(err.Error(), "--listen") {
		t.Errorf("a port that is taken: %v", err)
	}
	cancel()
	select {
	case err := <-done:
		if err != nil {
			t.Error(err)
		}
	case <-time.After(10 * time.Second):
		t.Fatal("it does not stop")
	}
}

func TestOpenRefusesANonPack(t *testing.T) {
	if _, err := Open(t.Context(), []string{"serve.go"}, Options{Page: page}); err == nil {
		t.Error("a Go file was served as a pack")
	}
}

// BenchmarkTile answers for one tile over and over, beside a file server with
// the tile as a file.
func BenchmarkTile(b *testing.B) {
	path := makePack(b, "Site one")
	file := "/" + deepest17.String() + ".png"
	dir := b.TempDir()
	if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, file)), 0o755); err != nil {
		b.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, file), quarters(b), 0o644); err != nil {
		b.Fatal(err)
	}
	server := func(memory int) *Server {
		s, err := Open(b.Context(), []string{path}, Options{Page: page, Memory: memory})
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = s.Close() })
		return s
	}
	at := func(id tiles.ID) string { return "/packs/site-one/tiles/" + id.String() + ".png" }
	deeper := tiles.ID{Z: 19, X: deepest17.X<<2 + 1, Y: deepest17.Y << 2}
	for _, c := range []struct {
		name, path string
		by         http.Handler
	}{
		{"from memory", at(deepest17), server(0)}, {"from the pack", at(deepest17), server(-1)}, {"file server", file, http.FileServer(http.Dir(dir))},
		{"enlarged before", at(deeper), server(0)}, {"enlarged", at(deeper), server(-1)},
	} {
		b.Run(c.name, func(b *testing.B) {
			r := httptest.NewRequestWithContext(b.Context(), http.MethodGet, c.path, nil)
			b.ReportAllocs()
			for b.Loop() {
				w := httptest.NewRecorder()
				w.Body = nil
				if c.by.ServeHTTP(w, r); w.Code != 200 {
					b.Fatal(w.Code)
				}
			}
		})
	}
}

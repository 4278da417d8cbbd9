package discover_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/source"
)

// kind is a source of a kind as sources.toml would have it.
func kind(t *testing.T, text string) source.Source {
	t.Helper()
	b, err := source.Read([]byte("[a]\n"+text+"\n"), "sources.toml")
	if err != nil {
		t.Fatal(err)
	}
	s, err := b.Find("a")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// get asks for a picture.
func get(t *testing.T, address string) image.Image {
	t.Helper()
	resp, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	data, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatalf("%s: %s: %v in %.200q", address, resp.Status, err, data)
	}
	return m
}

// same reports whether a part of a picture, from a place on, is another.
func same(whole image.Image, at image.Point, part image.Image) bool {
	b := part.Bounds()
	one, plain := whole.(*image.RGBA)
	if other, ok := part.(*image.RGBA); ok && plain {
		for y := range b.Dy() {
			from, to := one.PixOffset(at.X, at.Y+y), other.PixOffset(b.Min.X, b.Min.Y+y)
			if !bytes.Equal(one.Pix[from:from+4*b.Dx()], other.Pix[to:to+4*b.Dx()]) {
				return false
			}
		}
		return true
	}
	for y := range b.Dy() {
		for x := range b.Dx() {
			r1, g1, b1, a1 := whole.At(at.X+x, at.Y+y).RGBA()
			r2, g2, b2, a2 := part.At(x, y).RGBA()
			if r1 != r2 || g1 != g2 || b1 != b2 || a1 != a2 {
				return false
			}
		}
	}
	return true
}

// TestEveryKindGivesTheSamePixels asks one world through every kind of service
// for the same tiles.
func TestEveryKindGivesTheSamePixels(t *testing.T) {
	for _, size := range []int{256, 512} {
		w := newWorld(t, size)
		t.Setenv("GS_WORLD_KEY", "1")
		more := fmt.Sprintf("\nzooms = [%d, %d]\ntile_size = %d", low, high, size)
		deg := fmt.Sprintf("\nzooms = [14, %d]\ntile_size = %d", high, size)
		wms := "kind = \"wms\"\nlayer = \"world\"\nurl = \"" + w.URL + "/wms\"\n"
		kinds := map[string]string{
			"xyz":            `kind = "xyz"` + "\nurl = \"" + w.URL + "/xyz/{z}/{x}/{y}.png\"" + more,
			"tms":            `kind = "tms"` + "\nurl = \"" + w.URL + "/tms/{z}/{x}/{y}.png\"" + more,
			"tilejson":       `kind = "tilejson"` + "\nurl = \"" + w.URL + "/tile.json\"" + more,
			"tilejson tms":   `kind = "tilejson"` + "\nurl = \"" + w.URL + "/tile.json?tms\"" + more,
			"wmts rest":      `kind = "wmts"` + "\nurl = \"" + w.URL + "/wmts/caps.xml\"\nlayer = \"world\"" + more,
			"wmts kvp":       `kind = "wmts"` + "\nurl = \"" + w.URL + "/wmts/kvp?token={key}\"\nkey_env = \"GS_WORLD_KEY\"\nmatrix_set = \"web\"" + more,
			"wms 1.3.0":      wms + more,
			"wms 1.1.1":      wms + `version = "1.1.1"` + "\nstyle = \"plain\"" + more,
			"wms blocks":     wms + `metatile = 4` + more,
			"wms 4326":       wms + `crs = "EPSG:4326"` + deg,
			"wms 4326 1.1.1": wms + `crs = "EPSG:4326"` + "\nversion = \"1.1.1\"" + deg,
			"wms CRS:84":     wms + `crs = "CRS:84"` + "\nmetatile = 2" + deg,
			"ogc collection": `kind = "ogc-tiles"` + "\nurl = \"" + w.URL + "/ogc/\"\nlayer = \"world\"" + more,
			"ogc tileset":    `kind = "ogc-tiles"` + "\nurl = \"" + w.URL + "/ogc/collections/world/map/tiles\"\nformat = \"image/png\"" + more,
		}
		for name, text := range kinds {
			if size == 512 && !slices.Contains([]string{"tms", "wmts rest", "wms 1.3.0", "wms CRS:84", "ogc collection"}, name) {
				continue // drawing takes its time
			}
			t.Run(fmt.Sprint(name, " ", size), func(t *testing.T) { samePixels(t, w, kind(t, text)) })
		}
	}
}

func samePixels(t *testing.T, w *world, src source.Source) {
	t.Helper()
	shelf := src.StoreName()
	resolved, client, done, err := discover.Open(t.Context(), src, discover.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer done()
	if resolved.StoreName() != shelf || client != nil {
		t.Errorf("shelf %s became %s, client %v", shelf, resolved.StoreName(), client)
	}
	for _, z := range []int{15, high} {
		id := tiles.At(-140.5, 40.5, z)
		if src.Metatile > 1 && z != high {
			continue
		}
		first, n := resolved.Block(id)
		if n != max(src.Metatile, 1) {
			t.Fatalf("block of %d", n)
		}
		address, err := resolved.BlockAddress(first)
		if err != nil {
			t.Fatal(err)
		}
		picture := get(t, address)
		if picture.Bounds().Dx() != n*w.size || picture.Bounds().Dy() != n*w.size {
			t.Fatalf("%s: %v", address, picture.Bounds())
		}
		for dy := range n {
			for dx := range n {
				part := tiles.ID{Z: id.Z, X: first.X + uint32(dx), Y: first.Y + uint32(dy)}
				if !same(picture, image.Pt(dx*w.size, dy*w.size), w.tile(part)) {
					t.Errorf("tile %v through %s differs", part, address)
				}
			}
		}
	}
}

// TestLimitsAreTaken: a tile that the service says it lacks is not asked for.
func TestLimitsAreTaken(t *testing.T) {
	w := newWorld(t, 256)
	for _, text := range []string{
		`kind = "wmts"` + "\nurl = \"" + w.URL + "/wmts/caps.xml\"\nzooms = [10, 18]",
		`kind = "ogc-tiles"` + "\nurl = \"" + w.URL + "/ogc/\"\nlayer = \"world\"\nzooms = [10, 18]",
	} {
		src, err := discover.Resolve(t.Context(), kind(t, text), discover.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if src.Outside(tiles.At(-140.5, 40.5, 15)) || !src.Outside(tiles.At(-139.9, 40.5, 15)) || !src.Outside(tiles.At(-140.5, 41.5, 15)) {
			t.Errorf("kind %s: limits %v", src.Kind, src.Limits)
		}
	}
}

// TestStaticKindsAskNobody: they pass through as they are.
func TestStaticKindsAskNobody(t *testing.T) {
	w := newWorld(t, 256)
	src := kind(t, `kind = "xyz"`+"\nurl = \""+w.URL+"/xyz/{z}/{x}/{y}.png\"\nzooms = [0, 9]")
	got, err := discover.Resolve(t.Context(), src, discover.Options{})
	if err != nil || got.URL != src.URL || len(w.asked) != 0 {
		t.Errorf("%+v, %v, asked %v", got, err, w.asked)
	}
}

func TestOpenPractice(t *testing.T) {
	src, err := source.Config{}.Find("practice")
	if err != nil {
		t.Fatal(err)
	}
	opened, _, done, err := discover.Open(t.Context(), src, discover.Options{})
	if err != nil {
		t.Fatal(err)
	}
	address, err := opened.Address(tiles.ID{Z: 15, X: 3, Y: 4})
	if err != nil {
		t.Fatal(err)
	}
	resp, err := http.Get(address)
	if err != nil || resp.StatusCode != 200 {
		t.Fatal(resp, err)
	}
	resp.Body.Close()
	if err := done(); err != nil {
		t.Error(err)
	}
	if _, err := http.Get(address); err == nil {
		t.Error("it still runs")
	}
}

// TestDocumentsCarryTheAgent: the provider can see who asks.
func TestDocumentsCarryTheAgent(t *testing.T) {
	var agents []string
	server := newRecorder(t, func(rw http.ResponseWriter, r *http.Request) {
		agents = append(agents, r.UserAgent())
		fmt.Fprint(rw, `{"tilejson": "2.2.0", "tiles": ["http://`+r.Host+`/{z}/{x}/{y}.png"]}`)
	})
	src := kind(t, `kind = "tilejson"`+"\nurl = \""+server+"/a\"\nzooms = [1, 2]")
	if _, err := discover.Resolve(t.Context(), src, discover.Options{Contact: "maps@office.example"}); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(agents, []string{"groundsheet/1.0 (maps@office.example)"}) {
		t.Errorf("%q", agents)
	}
	if !strings.HasPrefix(server, "http://127.0.0.1") {
		t.Errorf("%s", server)
	}
}

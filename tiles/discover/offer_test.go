package discover_test

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	"groundsheet/tiles/local"
	"groundsheet/tiles/source"
)

// TestDescribe asks every kind of service what it is, writes the answer as a
// block, reads it back and gets the same pixels through it.
func TestDescribe(t *testing.T) {
	t.Setenv("GS_WORLD_KEY", "1")
	for _, size := range []int{256, 512} {
		w := newWorld(t, size)
		box := &tiles.Box{West: -141, South: 40, East: -140, North: 41}
		cases := map[string]struct {
			draft source.Source
			want  source.Source
		}{
			"template": {source.Source{URL: w.URL + "/xyz/{z}/{x}/{y}.png", Zooms: tiles.Zooms{Min: low, Max: high}}, source.Source{Kind: "xyz"}},
			"tilejson": {source.Source{URL: w.URL + "/tile.json"}, source.Source{Kind: "tilejson", Bounds: box, Attribution: "Invented & drawn"}},
			"wmts":     {source.Source{URL: w.URL + "/wmts/caps.xml"}, source.Source{Kind: "wmts", Layer: "world", MatrixSet: "web", Style: "plain one", Format: "image/png", Bounds: box}},
			"bare wmts": {source.Source{URL: w.URL + "/wmts/kvp?token={key}", KeyEnv: "GS_WORLD_KEY"},
				source.Source{Kind: "wmts", Layer: "world", MatrixSet: "web", Style: "plain one", Format: "image/png", Bounds: box}},
			"wms": {source.Source{URL: w.URL + "/wms", Layer: "world"}, source.Source{Kind: "wms", Layer: "world", Version: "1.3.0", Format: "image/png", Bounds: box}},
			"wms 1.1.1": {source.Source{URL: w.URL + "/wms?VERSION=1.1.1&REQUEST=GetCapabilities&SERVICE=WMS", Layer: "world"},
				source.Source{Kind: "wms", Layer: "world", Version: "1.1.1", Format: "image/png", Bounds: box}},
			"ogc": {source.Source{URL: w.URL + "/ogc/", Layer: "world"}, source.Source{Kind: "ogc-tiles", Layer: "world", Format: "image/png", Bounds: box, Attribution: "Invented"}},
		}
		for name, c := range cases {
			if size == 512 && name != "wmts" && name != "ogc" && name != "tilejson" {
				continue
			}
			t.Run(fmt.Sprint(name, " ", size), func(t *testing.T) {
				offers, err := discover.Describe(t.Context(), c.draft, discover.Options{})
				if err != nil || len(offers) != 1 || !offers[0].Whole {
					t.Fatalf("%+v, %v", offers, err)
				}
				got := offers[0].Source
				got.Name = "a"
				read := kind(t, strings.TrimPrefix(got.Text(offers[0].Notes), "[a]\n"))
				for _, s := range []source.Source{got, read} {
					if s.Kind != c.want.Kind || s.Layer != c.want.Layer || s.Style != c.want.Style || s.Format != c.want.Format || s.Version != c.want.Version ||
						s.Attribution != c.want.Attribution || s.TileSize != size || (s.Bounds == nil) != (c.want.Bounds == nil) || s.Bounds != nil && *s.Bounds != *box {
						t.Errorf("%+v", s)
					}
					if c.want.MatrixSet != "" && s.MatrixSet != c.want.MatrixSet {
						t.Errorf("matrix set %q", s.MatrixSet)
					}
				}
				if read.Refusal() == nil {
					t.Error("allowed before anyone stated the terms")
				}
				if c.want.Kind != "wms" && (read.Zooms.Min != low || read.Zooms.Max != high) {
					t.Errorf("zooms %v", read.Zooms)
				}
				if size == 256 {
					samePixels(t, w, read)
				}
			})
		}
	}
}

// TestDescribeLists: several layers want a choice.
func TestDescribeLists(t *testing.T) {
	w := newWorld(t, 256)
	for address, want := range map[string]string{"/wms": "world over", "/ogc/": "other world", "/ogc/collections": "other world"} {
		offers, err := discover.Describe(t.Context(), source.Source{URL: w.URL + address}, discover.Options{})
		var names []string
		for _, o := range offers {
			names = append(names, o.Source.Layer)
			if o.Whole || o.Title == "" {
				t.Errorf("%s: %+v", address, o)
			}
		}
		if err != nil || strings.Join(names, " ") != want {
			t.Errorf("%s: %v, %v", address, names, err)
		}
	}
}

func TestDescribeErrors(t *testing.T) {
	page := newRecorder(t, func(rw http.ResponseWriter, _ *http.Request) { fmt.Fprint(rw, "<!doctype html><title>Maps</title>") })
	shut := newRecorder(t, func(rw http.ResponseWriter, _ *http.Request) { rw.WriteHeader(403) })
	w := newWorld(t, 256)
	for name, c := range map[string]struct {
		draft source.Source
		says  string
	}{
		"a web page":      {source.Source{URL: page}, "a web page, not a map service"},
		"shut":            {source.Source{URL: shut}, "check the key"},
		"one picture":     {source.Source{URL: w.URL + "/xyz/15/3595/12345.png"}, "one picture"},
		"nothing there":   {source.Source{URL: w.URL + "/none"}, "404"},
		"template":        {source.Source{URL: w.URL + "/xyz/{z}/{x}/{y}.png"}, "--zooms"},
		"forbidden":       {source.Source{URL: "https://tile.openstreetmap.org/{z}/{x}/{y}.png"}, "OSMF"},
		"no such layer":   {source.Source{URL: w.URL + "/wms", Layer: "x"}, "no layer"},
		"no address":      {source.Source{URL: "maps.example"}, "https://"},
		"no such file":    {source.Source{File: filepath.Join(t.TempDir(), "x.mbtiles")}, "no such file"},
		"zooms not there": {source.Source{URL: w.URL + "/wmts/caps.xml", Zooms: tiles.Zooms{Min: 3, Max: 22}}, "no zoom 3 but zooms 10 to 18"},
	} {
		_, err := discover.Describe(t.Context(), c.draft, discover.Options{})
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestDescribeFolder: which end rows are counted from is not guessed.
func TestDescribeFolder(t *testing.T) {
	w := newWorld(t, 256)
	dir := t.TempDir()
	id := tiles.At(-140.5, 40.5, 15)
	resp, err := http.Get(w.URL + "/xyz/" + id.String() + ".png")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	path := filepath.Join(dir, id.String()+".png")
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.ReadFrom(resp.Body); err != nil || f.Close() != nil {
		t.Fatal(err)
	}
	offers, err := discover.Describe(t.Context(), source.Source{File: dir}, discover.Options{})
	if err != nil || len(offers) != 2 || offers[0].Source.File != dir+"/{z}/{x}/{y}.png" || offers[1].Source.File != dir+"/{z}/{x}/{-y}.png" || offers[0].Whole {
		t.Fatalf("%+v, %v", offers, err)
	}
	offers, err = discover.Describe(t.Context(), source.Source{File: offers[1].Source.File}, discover.Options{})
	if err != nil || len(offers) != 1 || !strings.Contains(offers[0].Source.File, "{-y}") || offers[0].Source.Zooms != (tiles.Zooms{Min: 15, Max: 15}) || offers[0].Source.TileSize != 256 {
		t.Errorf("%+v, %v", offers, err)
	}
	if err := os.WriteFile(filepath.Join(dir, "tilemapresource.xml"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	offers, err = discover.Describe(t.Context(), source.Source{File: dir}, discover.Options{})
	if err != nil || len(offers) != 1 || !strings.Contains(offers[0].Source.File, "{-y}") {
		t.Errorf("with a TMS document: %+v, %v", offers, err)
	}
	if err := os.WriteFile(path, []byte("no picture"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err = discover.Describe(t.Context(), source.Source{File: dir}, discover.Options{}); err == nil || !strings.Contains(err.Error(), "cannot be used") {
		t.Errorf("no picture: %v", err)
	}
	if _, err = discover.Describe(t.Context(), source.Source{File: t.TempDir()}, discover.Options{}); !errors.Is(err, local.Unusable) {
		t.Errorf("an empty folder: %v", err)
	}
}

// TestProbeTile: one request, and what came.
func TestProbeTile(t *testing.T) {
	w := newWorld(t, 256)
	src := kind(t, `kind = "xyz"`+"\nurl = \""+w.URL+"/xyz/{z}/{x}/{y}.png\"\nzooms = [0, 18]")
	id := tiles.At(-140.5, 40.5, 15)
	l, err := discover.ProbeTile(t.Context(), src, id, nil, discover.Options{})
	if err != nil || l.Status != 200 || l.Flaw != nil || l.Picture.Width != 256 || l.Picture.Kind != "png" || l.Proto != "HTTP/1.1" || len(w.asked) != 1 || l.Received.Before(l.Requested) {
		t.Errorf("%+v, %v", l, err)
	}
	if l, err = discover.ProbeTile(t.Context(), src, tiles.ID{}, nil, discover.Options{}); err != nil || l.Status != 404 || l.Flaw == nil {
		t.Errorf("%+v, %v", l, err)
	}
}

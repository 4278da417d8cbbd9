package main

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"maps"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"strconv"
	"strings"
	"testing"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/tiles"
	"groundsheet/tiles/practice"
)

// startService serves one invented town as TileJSON (/town.json), tiles, and a
// WMS with two layers. A request without the key "k1" is refused under /keyed.
func startService(t *testing.T) string {
	t.Helper()
	mux := http.NewServeMux()
	server := httptest.NewServer(mux)
	t.Cleanup(server.Close)
	town := practice.New(practice.Options{BusyEvery: -1})
	mux.Handle("/{z}/{x}/{y}", town)
	document := func(rw http.ResponseWriter, query string) {
		fmt.Fprintf(rw, `{"tilejson": "3.0.0", "name": "Town", "attribution": "<b>Invented</b> Survey", "tiles": ["%s/{z}/{x}/{y}.jpg%s"], "minzoom": 15, "maxzoom": 20, "bounds": [-141, 40, -140, 41]}`, server.URL, query)
	}
	mux.HandleFunc("/town.json", func(rw http.ResponseWriter, _ *http.Request) { document(rw, "") })
	mux.HandleFunc("/keyed/town.json", func(rw http.ResponseWriter, r *http.Request) {
		if r.URL.Query().Get("apikey") != "k1-secret" {
			rw.WriteHeader(401)
			return
		}
		document(rw, "?apikey=k1-secret")
	})
	mux.HandleFunc("/wms", func(rw http.ResponseWriter, r *http.Request) { wms(rw, r, server.URL) })
	return server.URL
}

func wms(rw http.ResponseWriter, r *http.Request, url string) {
	q := r.URL.Query()
	if q.Get("REQUEST") != "GetMap" {
		fmt.Fprintf(rw, `<WMS_Capabilities version="1.3.0"><Capability><Request><GetMap><Format>image/png</Format><DCPType><HTTP><Get><OnlineResource href="%s/wms"/></Get></HTTP></DCPType></GetMap></Request>
<Layer><CRS>EPSG:3857</CRS><Layer><Name>town</Name><Title>The town</Title></Layer><Layer><Name>names</Name><Title>Names</Title></Layer></Layer></Capability></WMS_Capabilities>`, url)
		return
	}
	box := strings.Split(q.Get("BBOX"), ",")
	west, _ := strconv.ParseFloat(box[0], 64)
	east, _ := strconv.ParseFloat(box[2], 64)
	north, _ := strconv.ParseFloat(box[3], 64)
	pixels, _ := strconv.Atoi(q.Get("WIDTH"))
	world := 2 * math.Pi * tiles.EarthRadius
	n := pixels / 256
	zoom := int(math.Round(math.Log2(world * float64(n) / (east - west))))
	first := tiles.ID{Z: uint32(zoom), X: uint32(math.Round((west/world + 0.5) * math.Exp2(float64(zoom)))), Y: uint32(math.Round((0.5 - north/world) * math.Exp2(float64(zoom))))}
	out := image.NewRGBA(image.Rect(0, 0, pixels, pixels))
	for i := range n * n {
		at := image.Pt(i%n*256, i/n*256)
		tile := practice.Draw(tiles.ID{Z: first.Z, X: first.X + uint32(i%n), Y: first.Y + uint32(i/n)})
		draw.Draw(out, image.Rectangle{at, at.Add(image.Pt(256, 256))}, tile, image.Point{}, draw.Src)
	}
	rw.Header().Set("Content-Type", "image/png")
	_ = png.Encode(rw, out) // whoever has gone is no matter
}

// allow states the terms of the source that was added last.
func (o *worker) allow() {
	o.t.Helper()
	text, err := os.ReadFile(o.path("sources.toml"))
	if err != nil {
		o.t.Fatal(err)
	}
	o.write("sources.toml", string(text)+"offline = \"allowed\"\nrequests_per_second = 2000\nconnections = 4\n")
}

// TestSourceAddToPack goes from an address to a fit pack, for a document, a
// service whose pictures are cut into tiles, and a file.
func TestSourceAddToPack(t *testing.T) {
	t.Parallel() // most of the time is polite waiting
	o := newWorker(t)
	url := startService(t)
	pack1 := func(name string) packed {
		t.Helper()
		o.must(0, "new", o.path(name), "--name", name, "--around", "40.5,-140.5", "--radius", "100ft", "--margin", "20ft", "--zooms", "17,19", "--source", name)
		var p packed
		decode(t, o.must(0, "pack", o.path(name), "--json"), &p)
		if p.Verdict != check.Fit || p.Tiles != p.Wanted || p.Absent != 0 {
			t.Fatalf("%s: %+v", name, p)
		}
		return p
	}
	out := o.must(0, "source", "add", url+"/town.json")
	if !strings.Contains(out, "added town to") || !strings.Contains(out, "zooms 15 to 20, 256-pixel tiles") || !strings.Contains(out, "still missing: its terms") || strings.Contains(out, "missing: attribution") {
		t.Errorf("%s", out)
	}
	if out := o.must(0, "source", "list"); !strings.Contains(out, "town: tilejson, zooms 15 to 20, may not be packed") {
		t.Errorf("%s", out)
	}
	o.allow()
	fetched := pack1("town").Fetched
	o.must(0, "source", "add", url+"/wms", "--layer", "town", "--name", "drawn")
	text, _ := os.ReadFile(o.path("sources.toml"))
	o.write("sources.toml", strings.Replace(string(text), "version = ", "metatile = 2\nversion = ", 1))
	o.allow()
	if p := pack1("drawn"); p.Fetched != fetched || p.Requests >= p.Fetched {
		t.Errorf("blocks of 4 tiles: %+v", p)
	}
	o.must(0, "source", "add", o.path("drawn", "out", "drawn.mbtiles"), "--name", "again")
	o.allow()
	pack1("again")
	samePack(t, o.path("drawn", "out", "drawn.mbtiles"), o.path("again", "out", "again.mbtiles"))
	if out := o.must(0, "source", "try", "again", "--at", "40.5,-140.5", "--zoom", "19"); !strings.Contains(out, "256×256 pixels") || !strings.Contains(out, "from: "+o.path("drawn")) {
		t.Errorf("%s", out)
	}
}

// samePack holds the tiles of two packs against each other.
func samePack(t *testing.T, a, b string) {
	t.Helper()
	var packs []*pack.Pack
	for _, path := range []string{a, b} {
		p, err := pack.Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		defer p.Close()
		packs = append(packs, p)
	}
	covers, err := packs[0].Wanted(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range covers {
		for id := range c.All() {
			x, errX := packs[0].Tile(t.Context(), id)
			y, errY := packs[1].Tile(t.Context(), id)
			if errX != nil || errY != nil || len(x) == 0 || !bytes.Equal(x, y) {
				t.Fatalf("tile %v: %d and %d bytes, %v, %v", id, len(x), len(y), errX, errY)
			}
			m, err := png.Decode(bytes.NewReader(x))
			if err != nil || !bytes.Equal(rgba(m), practice.Draw(id).Pix) {
				t.Fatalf("tile %v is not what was drawn: %v", id, err)
			}
		}
	}
}

func rgba(m image.Image) []byte {
	out := image.NewRGBA(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
	draw.Draw(out, out.Bounds(), m, m.Bounds().Min, draw.Src)
	return out.Pix
}

// TestSourceAddKeepsKeysOut: the key is in no file and in no word.
func TestSourceAddKeepsKeysOut(t *testing.T) {
	o := newWorker(t)
	url := startService(t)
	t.Setenv("TOWN_KEY", "")
	out := o.must(0, "source", "add", url+"/keyed/town.json?apikey=k1-secret", "--key-env", "TOWN_KEY")
	text, _ := os.ReadFile(o.path("sources.toml"))
	if strings.Contains(out+string(text), "secret") || !strings.Contains(string(text), "apikey={key}") || !strings.Contains(string(text), `key_env = "TOWN_KEY"`) || !strings.Contains(out, "TOWN_KEY") {
		t.Errorf("%s\n%s", out, text)
	}
	if out = o.must(0, "source", "try", "town"); strings.Contains(out, "secret") || !strings.Contains(out, "apikey={key}") {
		t.Errorf("%s", out)
	}
	t.Setenv("TOWN_KEY", "wrong-key")
	if code, out, err := o.do("source", "try", "town"); code != exitOutside || !strings.Contains(err, "401") || strings.Contains(out+err, "wrong-key") {
		t.Errorf("%d %s%s", code, out, err)
	}
	if code, _, err := o.do("source", "add", url+"/keyed/town.json?apikey=k1-secret", "--key-env", "TOWN_KEY", "--name", "b"); code != exitUse || !strings.Contains(err, "another key") || strings.Contains(err, "secret") {
		t.Errorf("%d %s", code, err)
	}
}

// TestSourceAddRefuses: nothing on disk changes.
func TestSourceAddRefuses(t *testing.T) {
	o := newWorker(t)
	url := startService(t)
	o.must(0, "source", "add", url+"/town.json")
	page := httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, _ *http.Request) { fmt.Fprint(rw, "<html><title>Maps</title>") }))
	t.Cleanup(page.Close)
	before := o.snapshot()
	for name, c := range map[string]struct {
		args []string
		code int
		says string
	}{
		"no address":      {nil, exitUse, "one address"},
		"several layers":  {[]string{url + "/wms"}, exitUse, "--layer town"},
		"no such layer":   {[]string{url + "/wms", "--layer", "x"}, exitUse, "town, names"},
		"name taken":      {[]string{url + "/town.json"}, exitUse, "already"},
		"bad name":        {[]string{url + "/town.json", "--name", "a b"}, exitUse, "letters"},
		"practice":        {[]string{url + "/town.json", "--name", "practice"}, exitUse, "another name"},
		"a page":          {[]string{page.URL}, exitOutside, "a web page"},
		"nobody there":    {[]string{"http://127.0.0.1:9/"}, exitOutside, "no answer"},
		"key by hand":     {[]string{url + "/town.json?key={key}"}, exitUse, "--key-env"},
		"two keys":        {[]string{url + "/town.json?key=1&token=2"}, exitUse, "two secrets"},
		"no file":         {[]string{o.path("none.mbtiles")}, exitUse, "no such file"},
		"without zooms":   {[]string{url + "/{z}/{x}/{y}.jpg"}, exitUse, "--zooms"},
		"zooms too deep":  {[]string{url + "/town.json", "--zooms", "15,22", "--name", "b"}, exitUse, "[15, 20]"},
		"forbidden":       {[]string{"https://tile.openstreetmap.org/{z}/{x}/{y}.png", "--zooms", "0,19"}, exitUse, "OSMF"},
		"file is no TOML": {[]string{url + "/town.json", "--to", o.write("bad.toml", "[x")}, exitUse, "bad.toml"},
	} {
		if name == "file is no TOML" {
			before = o.snapshot()
		}
		code, out, err := o.do(append([]string{"source", "add"}, c.args...)...)
		if code != c.code || !strings.Contains(err, c.says) {
			t.Errorf("%s: %d, %s%s", name, code, out, err)
		}
	}
	o.write("bad.toml", "[x")
	if after := o.snapshot(); !maps.Equal(before, after) && len(after) != len(before)+1 {
		t.Error("something changed on disk")
	}
	if out := o.must(exitUse, "source", "add", url+"/wms"); !strings.Contains(out, "town  The town") || !strings.Contains(out, "names  Names") {
		t.Errorf("layers are not listed:\n%s", out)
	}
}

// TestSourceTry: one request, everything that came in words.
func TestSourceTry(t *testing.T) {
	var flat bytes.Buffer
	m := image.NewRGBA(image.Rect(0, 0, 256, 256))
	draw.Draw(m, m.Bounds(), image.NewUniform(color.RGBA{200, 200, 200, 255}), image.Point{}, draw.Src)
	if err := png.Encode(&flat, m); err != nil {
		t.Fatal(err)
	}
	header := http.Header{}
	status, body, requests := 200, flat.Bytes(), 0
	server := httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, _ *http.Request) {
		requests++
		maps.Copy(rw.Header(), header)
		rw.WriteHeader(status)
		_, _ = rw.Write(body) // the test reads it
	}))
	t.Cleanup(server.Close)
	o := newWorker(t)
	o.write("sources.toml", fmt.Sprintf("[a]\nkind = \"xyz\"\nurl = %q\nzooms = [3, 18]\nbounds = [-141, 40, -140, 41]\n", server.URL+"/{z}/{x}/{y}.png"))
	set := func(pairs ...string) {
		header = http.Header{"Content-Type": {"image/png"}}
		for i := 0; i+1 < len(pairs); i += 2 {
			header.Set(pairs[i], pairs[i+1])
		}
	}
	cases := []struct {
		name string
		do   func()
		args []string
		code int
		says []string
	}{
		{"all is well but flat", func() {
			set("Cache-Control", "max-age=7200, Must-Revalidate, no-transform", "ETag", `"x"`, "Vary", "Accept")
		}, nil, 0,
			[]string{"tile 16/7190/24691", "40.4", "200 OK, HTTP/1.1", "png by content, 256×256 pixels", "fresh for 2 h; then confirmed by ETag", "must-revalidate", "no-transform", "Vary: Accept", "of one color", "placeholders", "http without encryption", "terms: ", "states no terms", "the same as this computer's"}},
		{"no validators", func() { set("Cache-Control", "no-store, private") }, nil, 0, []string{"stale at once", "no ETag or Last-Modified", "forbids keeping", "one reader alone"}},
		{"two fields private", func() { set("Cache-Control", `max-age=7200, private="ETag, X"`, "ETag", `"x"`) }, nil, 0, []string{"fresh for 2 h;", "so a refresh fetches it whole again"}},
		{"wrong type", func() { set("Content-Type", "image/jpeg", "Date", "Thu, 01 Jan 1970 00:00:00 GMT") }, nil, 0, []string{"the header says image/jpeg, and the content is image/png", "behind this computer"}},
		{"a place and a zoom", func() { set() }, []string{"--at", "0.1,0.1", "--zoom", "3"}, 0, []string{"tile 3/4/3"}},
		{"not there", func() { set(); status = 404 }, nil, 3, []string{"404 Not Found", "no tile there"}},
		{"a page", func() { set("Content-Type", "text/html"); status, body = 200, []byte("<html>") }, nil, 3, []string{"an HTML page"}},
		{"another size", func() {
			set()
			var b bytes.Buffer
			_ = png.Encode(&b, image.NewGray(image.Rect(0, 0, 512, 512)))
			body = b.Bytes()
		}, nil, 3, []string{"512×512 pixels, and tile_size is 256"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			c.do()
			requests = 0
			before := o.snapshot()
			code, out, err := o.do(append([]string{"source", "try", "a"}, c.args...)...)
			for _, w := range c.says {
				if !strings.Contains(out, w) {
					t.Errorf("lacks %q", w)
				}
			}
			if c.name == "two fields private" && strings.Contains(out, "one reader alone") {
				t.Error("the whole answer is not private")
			}
			if code != c.code || requests != 1 || !maps.Equal(before, o.snapshot()) || t.Failed() {
				t.Errorf("code %d, %d requests\n%s%s", code, requests, out, err)
			}
		})
	}
	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"no name": {nil, "one source"}, "unknown": {[]string{"b"}, "no source is named"}, "no such zoom": {[]string{"a", "--zoom", "19"}, "zooms 3 to 18"},
		"no place": {[]string{"a", "--at", "x"}, "--at"},
	} {
		if code, _, err := o.do(append([]string{"source", "try"}, c.args...)...); code != exitUse || !strings.Contains(err, c.says) {
			t.Errorf("%s: %d %s", name, code, err)
		}
	}
	o.write("sources.toml", "[a]\nkind = \"xyz\"\nurl = \"https://tile.openstreetmap.org/{z}/{x}/{y}.png\"\nzooms = [3, 18]\n")
	if code, _, err := o.do("source", "try", "a", "--at", "40.5,-140.5"); code != exitUse || !strings.Contains(err, "OSMF") {
		t.Errorf("forbidden: %d %s", code, err)
	}
	if out := o.must(0, "source", "try", "practice"); !strings.Contains(out, "jpg by content") {
		t.Errorf("%s", out)
	}
}

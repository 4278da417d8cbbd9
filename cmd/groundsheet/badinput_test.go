package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"maps"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"

	"groundsheet/tiles/practice"
)

func ring(points string) string {
	return `{"type":"Polygon","coordinates":[[` + points + `]]}`
}

const square = `[-140.5,40.5],[-140.499,40.5],[-140.499,40.501],[-140.5,40.501],[-140.5,40.5]`

// TestBadAreas: each with a clear message, exit code 2 and nothing changed.
func TestBadAreas(t *testing.T) {
	cases := map[string]struct{ file, says string }{
		"empty":           {"", "empty"},
		"not JSON":        {"<kml/>", "the content is XML"},
		"cut JSON":        {`{"type":"Polygon","coordinates":[[[-1`, "JSON"},
		"a line":          {`{"type":"LineString","coordinates":[[-140.5,40.5],[-140.4,40.5]]}`, "Polygon"},
		"a point":         {`{"type":"Point","coordinates":[-140.5,40.5]}`, "Polygon"},
		"no feature":      {`{"type":"FeatureCollection","features":[]}`, ""},
		"beyond Mercator": {ring(`[10,84],[11,84],[11,86],[10,86],[10,84]`), "85.05"},
		"beyond the pole": {ring(`[10,84],[11,84],[11,96],[10,96],[10,84]`), "latitude"},
		"swapped":         {ring(`[40.5,-140.5],[40.501,-140.5],[40.501,-140.499],[40.5,-140.5]`), "swapped"},
		"self-crossing":   {ring(`[-140.5,40.5],[-140.499,40.501],[-140.499,40.5],[-140.5,40.501],[-140.5,40.5]`), "cross"},
		"not closed":      {ring(`[-140.5,40.5],[-140.499,40.5],[-140.499,40.501],[-140.5,40.501]`), "close"},
		"too few":         {ring(`[-140.5,40.5],[-140.499,40.5],[-140.5,40.5]`), "four"},
		"another datum":   {`{"type":"Feature","properties":{},"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::26954"}},"geometry":` + ring(square) + `}`, "26954"},
		"one number":      {ring(`[-140.5],[-140.499,40.5],[-140.499,40.501],[-140.5]`), "number"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			o := newDesk(t)
			file := o.write("area.geojson", c.file)
			before := o.snapshot()
			code, out, err := o.do("new", o.path("site"), "--name", "Bad", "--area", file)
			words := strings.ReplaceAll(err, o.dir, "") // the folder has the case's name in it
			if code != exitUse || !strings.Contains(words, c.says) || !strings.Contains(words, "area.geojson") {
				t.Errorf("exit %d: %s%s", code, out, err)
			}
			if !maps.Equal(before, o.snapshot()) {
				t.Error("something changed on disk")
			}
		})
	}
}

// TestBadCalls: wrong use of new, plan, pack, check and serve.
func TestBadCalls(t *testing.T) {
	o := newDesk(t)
	o.source("town", "http://127.0.0.1:9/{z}/{x}/{y}.jpg", "")
	good := o.write("area.geojson", ring(square))
	text := o.write("text.mbtiles", strings.Repeat("not a database ", 100))
	circle := []string{"--around", "40.5,-140.5", "--radius", "100ft"}
	with := func(more ...string) []string {
		return append([]string{"new", o.path("site"), "--name", "Bad"}, more...)
	}
	cases := map[string]struct {
		args []string
		says string
	}{
		"no such area file":      {with("--area", o.path("none.geojson")), "no such file"},
		"no area at all":         {with(), "no area"},
		"no name":                {[]string{"new", o.path("site"), "--area", good}, "--name"},
		"place first swapped":    {with("--around", "-140.5,40.5", "--radius", "100ft"), "did you mean 40.5,-140.5"},
		"zooms reversed":         {with("--area", good, "--zooms", "20,14"), "reversed"},
		"zooms beyond 24":        {with("--area", good, "--zooms", "14,25"), "deepest zoom is 24"},
		"one zoom":               {with("--area", good, "--zooms", "14"), "two numbers"},
		"unknown source":         {with("--area", good, "--source", "nowhere"), "nowhere"},
		"radius, no unit":        {with("--around", "40.5,-140.5", "--radius", "100"), "unit"},
		"radius alone":           {with("--radius", "100ft"), "--around"},
		"circle off Mercator":    {with("--around", "86,10", "--radius", "100ft"), "85.05"},
		"place swapped":          {with("--around", "-140.5,40.5", "--radius", "100ft"), "latitude"},
		"minus left away":        {with("--around", "43.20,112.10", "--radius", "300ft"), "did you mean 43.2,-112.1? --yes takes it as written"},
		"both slips":             {with("--around", "112.10,43.20", "--radius", "300ft"), "did you mean 43.2,-112.1?"},
		"box without the minus":  {with("--box", "43.20,112.10,43.21,112.11"), "did you mean 43.2,-112.1?"},
		"an address":             {with("--around", "1234 Main St, Boise", "--radius", "300ft"), "13N 498945 4429136"},
		"width alone":            {with("--width", "60ft"), "--along"},
		"route is an area":       {with("--along", good, "--width", "60ft"), "LineString"},
		"unknown flag":           {with("--colour", "red"), "--colour"},
		"bad day":                {append(with("--valid-until", "soon"), circle...), "YYYY-MM-DD"},
		"plan, no job":           {[]string{"plan", o.path("nosite")}, "job.toml"},
		"plan, no folder":        {[]string{"plan"}, "one job folder"},
		"pack, no job":           {[]string{"pack", o.path("nosite")}, "job.toml"},
		"check nothing":          {[]string{"check"}, "no pack is named"},
		"check no file":          {[]string{"check", o.path("none.mbtiles")}, "no such file"},
		"check a text":           {[]string{"check", text}, "not a SQLite file"},
		"serve a text":           {[]string{"serve", text, "--listen", "127.0.0.1:0"}, ""},
		"serve with no receiver": {[]string{"serve", text, "--position", "gps"}, "serial:/dev/ttyUSB0"},
		"serve at nowhere":       {[]string{"serve", text, "--listen", "nowhere"}, "--listen"},
		"unknown command":        {[]string{"dig"}, "dig"},
	}
	before := o.snapshot()
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			code, out, err := o.do(c.args...)
			if code != exitUse || !strings.Contains(err, c.says) || err == "" {
				t.Errorf("exit %d: %s%s", code, out, err)
			}
		})
	}
	if after := o.snapshot(); !maps.Equal(before, after) {
		t.Errorf("something changed on disk: %d entries, %d before", len(after), len(before))
	}
}

// TestTermsFirst: refused before a single request, with what to do.
func TestTermsFirst(t *testing.T) {
	var asked atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { asked.Add(1) }))
	defer server.Close()
	template := server.URL + "/{z}/{x}/{y}.jpg"
	const terms = "\n[town.terms]\noffline = \"allowed\"\n"
	head := func(url string) string {
		return "[town]\nkind = \"xyz\"\nzooms = [0, 22]\nurl = \"" + url + "\"\n"
	}
	cases := map[string]struct{ sources, says, do string }{
		"no terms":       {head(template), "no terms", "[town.terms]"},
		"forbidden":      {head(template) + "\n[town.terms]\noffline = \"forbidden\"\n", "forbid", "use a source whose terms permit it"},
		"empty word":     {head(template) + "\n[town.terms]\ncontact = \"a@b\"\n", "offline", "set offline"},
		"other word":     {head(template) + "\n[town.terms]\noffline = \"maybe\"\n", "maybe", "set offline"},
		"no permission":  {head(template) + "\n[town.terms]\noffline = \"permission\"\n", "permission", "who, when"},
		"too many tiles": {head(template) + terms + "tiles_per_job = 5\n", "5 a job", "smaller"},
		"too deep":       {strings.Replace(head(template), "22", "18", 1) + terms, "0 to 18", "zooms"},
		"elsewhere":      {head(template) + "bounds = [10, 10, 11, 11]\n" + terms, "outside", "another source"},
		// OpenStreetMap Foundation, Tile Usage Policy: bulk and offline use prohibited.
		"policy of the host": {head("https://tile.openstreetmap.org/{z}/{x}/{y}.png") + terms, "Policy", "terms permit"},
		"its subdomains":     {head("https://A.Tile.OpenStreetMap.org:443/{z}/{x}/{y}.png") + terms, "Policy", "terms permit"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			o := newDesk(t)
			o.source("town", template, "")
			o.newJob()
			o.write("sources.toml", c.sources)
			before := o.snapshot()
			for _, verb := range []string{"plan", "pack"} {
				code, out, err := o.do(verb, o.path("site"))
				if code != exitUse || !strings.Contains(err, c.says) || !strings.Contains(err, c.do) {
					t.Errorf("%s: exit %d: %s%s", verb, code, out, err)
				}
			}
			if !maps.Equal(before, o.snapshot()) {
				t.Error("something changed on disk")
			}
		})
	}
	if n := asked.Load(); n > 0 {
		t.Errorf("%d requests were made", n)
	}
}

// TestBadSourcesFile: wrong templates and keys.
func TestBadSourcesFile(t *testing.T) {
	for name, c := range map[string]struct{ url, says string }{
		"no placeholders": {"http://127.0.0.1:9/tile.jpg", "{z}"},
		"no row":          {"http://127.0.0.1:9/{z}/{x}.jpg", "{y}"},
		"not http":        {"ftp://127.0.0.1/{z}/{x}/{y}.jpg", "http"},
		"not a URL":       {"{z}/{x}/{y}", "http"},
	} {
		t.Run(name, func(t *testing.T) {
			o := newDesk(t)
			o.source("town", "http://127.0.0.1:9/{z}/{x}/{y}.jpg", "")
			o.newJob()
			o.source("town", c.url, "")
			before := o.snapshot()
			code, out, err := o.do("pack", o.path("site"))
			if code != exitUse || !strings.Contains(err, c.says) || !strings.Contains(err, "town") {
				t.Errorf("exit %d: %s%s", code, out, err)
			}
			if !maps.Equal(before, o.snapshot()) {
				t.Error("something changed on disk")
			}
		})
	}
}

func jpegOf(t *testing.T, side int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, side, side)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestBadServers: what is not a whole tile is not stored, no pack is written,
// the message names the cause, and the same job goes on once the source is
// well.
func TestBadServers(t *testing.T) {
	whole := jpegOf(t, 256)
	answer := func(body []byte, media string) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", media)
			_, _ = w.Write(body)
		}
	}
	status := func(code int) http.HandlerFunc {
		return func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "no", code) }
	}
	cases := map[string]struct {
		handler http.HandlerFunc
		says    string
	}{
		"HTML with 200":   {answer([]byte("<!doctype html><title>Sign in</title>"), "image/jpeg"), "HTML"},
		"truncated JPEG":  {answer(whole[:len(whole)-20], "image/jpeg"), "cut short"},
		"wrong size":      {answer(jpegOf(t, 512), "image/jpeg"), "512"},
		"empty":           {answer(nil, "image/jpeg"), "no bytes"},
		"40 MB":           {answer(make([]byte, 40<<20), "image/jpeg"), "longer than"},
		"cut connection":  {cutShort(whole), "cut"},
		"no entry":        {status(403), "403"},
		"captive portal":  {status(511), "portal"},
		"always an error": {status(500), "500"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel() // most of the time is polite waiting
			o := newDesk(t)
			var well atomic.Bool
			good := practice.New(practice.Options{BusyEvery: -1})
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if well.Load() {
					good.ServeHTTP(w, r)
					return
				}
				c.handler(w, r)
			}))
			defer server.Close()
			o.source("town", server.URL+"/{z}/{x}/{y}.jpg", "")
			o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "30ft", "--zooms", "18,19")
			code, out, err := o.do("pack", o.path("site"))
			if code != exitOutside || !strings.Contains(err, c.says) {
				t.Errorf("exit %d: %s%s", code, out, err)
			}
			if _, err := os.Stat(o.packPath()); err == nil {
				t.Error("a pack was written")
			}
			well.Store(true)
			var p packed
			decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
			if p.Fetched != p.Wanted {
				t.Errorf("something bad was stored: %+v", p)
			}
		})
	}
}

// cutShort promises a whole image and hangs up in the middle.
func cutShort(whole []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Length", fmt.Sprint(len(whole)))
		_, _ = w.Write(whole[:len(whole)/2])
		if conn, _, err := w.(http.Hijacker).Hijack(); err == nil {
			_ = conn.Close()
		}
	}
}

// TestServerDown: nothing listens at the source's address.
func TestServerDown(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	url := "http://" + l.Addr().String() + "/{z}/{x}/{y}.jpg"
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	o := newDesk(t)
	o.source("town", url, "")
	o.newJob()
	code, out, errText := o.do("pack", o.path("site"))
	if code != exitOutside || !strings.Contains(errText, "town") || !strings.Contains(errText, "refused") {
		t.Errorf("exit %d: %s%s", code, out, errText)
	}
}

// TestBadPacks: check and serve refuse what is no pack, and leave it alone.
func TestBadPacks(t *testing.T) {
	o := newDesk(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	whole, err := os.ReadFile(o.packPath())
	if err != nil {
		t.Fatal(err)
	}
	cut := o.write("cut.mbtiles", string(whole[:len(whole)*2/3]))
	flipped := bytes.Clone(whole)
	for i := len(flipped) / 2; i < len(flipped)/2+4096; i++ {
		flipped[i] ^= 0xff
	}
	damaged := o.write("damaged.mbtiles", string(flipped))
	before := o.snapshot()
	if code, _, err := o.do("check", cut); code != exitUse || !strings.Contains(err, "cut short") {
		t.Errorf("truncated: exit %d: %s", code, err)
	}
	if code, out, err := o.do("check", damaged); code != exitNotFit || !strings.Contains(out, "not fit") {
		t.Errorf("damaged: exit %d: %s%s", code, out, err)
	}
	if !maps.Equal(before, o.snapshot()) {
		t.Error("something changed on disk")
	}
}

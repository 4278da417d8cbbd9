//go:build outside

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image/png"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/check"
	"groundsheet/pack/job"
	"groundsheet/pack/plan"
	"groundsheet/tiles"
	"groundsheet/tiles/practice"
)

// The tests in this file need programs from outside: GDAL, PROJ, nginx, the
// sqlite3 shell, Node. go run ./cmd/dev test brings them.

// tool runs an outside program and gives what it printed.
func tool(t *testing.T, dir, name string, args ...string) string {
	t.Helper()
	c := exec.Command(name, args...)
	c.Dir = dir
	var out, errs bytes.Buffer
	c.Stdout, c.Stderr = &out, &errs
	if err := c.Run(); err != nil {
		t.Fatalf("%s %s: %v\n%s%s", name, strings.Join(args, " "), err, out.String(), errs.String())
	}
	return out.String()
}

// county is Barnstable County, Massachusetts: a cape, islands and a deep bay.
const county = "25001"

// TestOutsideCounty packs the area of a real county (npm us-atlas 3.0.1: US
// Census Bureau, public domain) from a real web server (nginx) with tiles that
// GDAL rendered from the real outlines of the whole state.
func TestOutsideCounty(t *testing.T) {
	o := newWorker(t)
	reference, err := filepath.Abs(filepath.Join("..", "..", "testdata", "reference"))
	if err != nil {
		t.Fatal(err)
	}
	tool(t, reference, "node", "county.mjs", county, o.path("county.geojson"))
	tool(t, reference, "node", "county.mjs", "around", county, o.path("state.geojson"))
	render(t, o)
	url := startNginx(t, o)
	o.source("rendered", url+"/{z}/{x}/{y}.png", "")
	o.must(0, "new", o.path("site"), "--name", "Test site", "--area", o.path("county.geojson"), "--zooms", "6,12", "--margin", "1mi")
	var plan plan.Document
	decode(t, o.must(0, "plan", o.path("site"), "--json"), &plan)
	var p packed
	decode(t, o.must(0, "pack", o.path("site"), "--json"), &p)
	if p.Verdict != check.Fit || p.Tiles != plan.Tiles || p.Absent != 0 || p.Tiles < 80 {
		t.Fatalf("planned %d, packed %+v", plan.Tiles, p)
	}
	t.Run("pixels equal GDAL's", func(t *testing.T) { samePixels(t, o) })
	t.Run("the cover is what GDAL meets", func(t *testing.T) { sameCover(t, o) })
	t.Run("gdalinfo", func(t *testing.T) { gdalinfo(t, o) })
	t.Run("a window read through GDAL", func(t *testing.T) { window(t, o) })
}

// render makes z/x/y files of zooms 6 to 12 with GDAL alone.
func render(t *testing.T, o *worker) {
	t.Helper()
	tool(t, o.dir, "ogr2ogr", "-t_srs", "EPSG:3857", "state3857.gpkg", "state.geojson")
	// The state and some sea round it, so that every tile with a part of the
	// county in it is rendered.
	tool(t, o.dir, "gdal_rasterize", "-q", "-a", "shade", "-ot", "Byte", "-init", "10", "-a_srs", "EPSG:3857",
		"-te", "-8250000", "5000000", "-7730000", "5350000", "-tr", "40", "40", "state3857.gpkg", "state.tif")
	tool(t, o.dir, "gdal_translate", "-q", "-b", "1", "-b", "1", "-b", "1", "-colorinterp", "red,green,blue", "state.tif", "rgb.tif")
	tool(t, o.dir, "gdal2tiles.py", "--processes", "2", "--xyz", "-q", "-r", "near", "-z", "6-12", "-w", "none", "rgb.tif", "tiles")
}

// startNginx serves the tiles folder on a free port of loopback.
func startNginx(t *testing.T, o *worker) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().String()
	if err := l.Close(); err != nil {
		t.Fatal(err)
	}
	tool(t, o.dir, "chmod", "-R", "a+rX", o.dir)
	conf := o.write("nginx/nginx.conf", fmt.Sprintf(`daemon off; master_process off; pid %[1]s/nginx/pid; error_log %[1]s/nginx/error.log;
events { worker_connections 64; }
http { access_log %[1]s/nginx/access.log; types { image/png png; }
 client_body_temp_path %[1]s/nginx/a; proxy_temp_path %[1]s/nginx/b; fastcgi_temp_path %[1]s/nginx/c; uwsgi_temp_path %[1]s/nginx/d; scgi_temp_path %[1]s/nginx/e;
 server { listen %[2]s; root %[1]s/tiles; expires 1h; } }
`, o.dir, addr))
	c := exec.Command("nginx", "-c", conf, "-p", o.dir)
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Process.Kill(); _ = c.Wait() })
	for range 100 {
		if conn, err := net.Dial("tcp", addr); err == nil {
			_ = conn.Close()
			return "http://" + addr
		}
		time.Sleep(50 * time.Millisecond)
	}
	log, _ := os.ReadFile(o.path("nginx", "error.log"))
	t.Fatalf("nginx does not answer: %s", log)
	return ""
}

func openPack(t *testing.T, o *worker) *pack.Pack {
	t.Helper()
	p, err := pack.Open(t.Context(), o.packPath())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.Close() })
	return p
}

// samePixels holds every packed tile against the file that GDAL wrote.
func samePixels(t *testing.T, o *worker) {
	p := openPack(t, o)
	covers, err := p.Wanted(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	shades := map[string]bool{}
	for _, c := range covers {
		for id := range c.All() {
			packed, err := p.Tile(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			rendered, err := os.ReadFile(o.path("tiles", id.String()+".png"))
			if err != nil {
				t.Fatal(err)
			}
			a, b := pixels(t, packed), pixels(t, rendered)
			if !bytes.Equal(a, b) {
				t.Errorf("tile %v differs from GDAL's", id)
			}
			shades[fmt.Sprint(a[0], a[len(a)/2])] = true
		}
	}
	if len(shades) < 4 {
		t.Errorf("only %d kinds of tiles: the picture is nearly blank, so this proves little", len(shades))
	}
}

func pixels(t *testing.T, data []byte) []byte {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	out := make([]byte, 0, 256*256*3)
	for y := range 256 {
		for x := range 256 {
			r, g, b, _ := img.At(x, y).RGBA()
			out = append(out, byte(r>>8), byte(g>>8), byte(b>>8))
		}
	}
	return out
}

// sameCover asks GDAL's own rasterizer (-at: every cell that is touched) which
// tiles of zoom 12 the county meets, and holds the cover without margin
// against it.
func sameCover(t *testing.T, o *worker) {
	const zoom = 12
	tool(t, o.dir, "ogr2ogr", "-t_srs", "EPSG:3857", "county3857.gpkg", "county.geojson")
	half := 20037508.342789244
	cell := 2 * half / (1 << zoom)
	west, north := tiles.At(-71.2, 42.3, zoom), tiles.At(-69.5, 41.2, zoom)
	x0, y0, nx, ny := west.X, west.Y, north.X-west.X+1, north.Y-west.Y+1
	num := func(v float64) string { return strconv.FormatFloat(v, 'f', 9, 64) }
	tool(t, o.dir, "gdal_rasterize", "-q", "-at", "-burn", "1", "-init", "0", "-ot", "Byte", "-of", "ENVI", "-ts", fmt.Sprint(nx), fmt.Sprint(ny),
		"-te", num(-half+float64(x0)*cell), num(half-float64(y0+ny)*cell), num(-half+float64(x0+nx)*cell), num(half-float64(y0)*cell), "county3857.gpkg", "touched.bin")
	touched, err := os.ReadFile(o.path("touched.bin"))
	if err != nil || len(touched) != int(nx*ny) {
		t.Fatalf("%d cells, %v", len(touched), err)
	}
	job, err := job.Read(o.path("site"))
	if err != nil {
		t.Fatal(err)
	}
	area, _, err := job.ReadArea()
	if err != nil {
		t.Fatal(err)
	}
	cover := area.Covers(tiles.Zooms{Min: zoom, Max: zoom}, 0)[0]
	met := 0
	for i, burnt := range touched {
		id := tiles.ID{Z: zoom, X: x0 + uint32(i)%nx, Y: y0 + uint32(i)/nx}
		if (burnt == 1) != cover.Has(id) {
			t.Errorf("tile %v: GDAL says touched %v, the cover says %v", id, burnt == 1, cover.Has(id))
		}
		met += int(burnt)
	}
	if met < 40 || uint64(met) != cover.Count() {
		t.Errorf("GDAL meets %d tiles, the cover has %d", met, cover.Count())
	}
}

// gdalinfo opens the pack as a stranger would.
func gdalinfo(t *testing.T, o *worker) {
	var info struct {
		DriverShortName   string
		Size              []int
		Metadata          map[string]map[string]string
		CornerCoordinates struct{ UpperLeft, LowerRight []float64 }
		Bands             []struct{ Overviews []struct{ Size []int } }
	}
	if err := json.Unmarshal([]byte(tool(t, o.dir, "gdalinfo", "-json", o.packPath())), &info); err != nil {
		t.Fatal(err)
	}
	meta := info.Metadata[""]
	if info.DriverShortName != "MBTiles" || meta["minzoom"] != "6" || meta["maxzoom"] != "12" || meta["format"] != "png" || meta["name"] != "Test site" {
		t.Errorf("%s %v", info.DriverShortName, meta)
	}
	p := openPack(t, o)
	b := p.Info.Bounds
	if want := fmt.Sprintf("%.9f,%.9f,%.9f,%.9f", b.West, b.South, b.East, b.North); meta["bounds"] != want {
		t.Errorf("bounds %s, want %s", meta["bounds"], want)
	}
	// GDAL's raster is the bounds at the deepest zoom, in pixels.
	x0, y0 := tiles.Project(b.West, b.North)
	x1, y1 := tiles.Project(b.East, b.South)
	world := float64(256 << 12)
	if w, h := (x1-x0)*world, (y1-y0)*world; abs(float64(info.Size[0])-w) > 2 || abs(float64(info.Size[1])-h) > 2 {
		t.Errorf("size %v, the bounds are %.1f by %.1f pixels at zoom 12", info.Size, w, h)
	}
	// GDAL offers the shallower zooms as overviews until they get too small.
	if len(info.Bands) < 3 || len(info.Bands[0].Overviews) < 2 {
		t.Fatalf("%d bands, overviews %v", len(info.Bands), info.Bands[0].Overviews)
	}
	for i, o := range info.Bands[0].Overviews {
		if w := float64(info.Size[0]) / float64(int(2)<<i); abs(float64(o.Size[0])-w) > 1 {
			t.Errorf("overview %d is %v wide, want %.1f", i, o.Size[0], w)
		}
	}
}

func abs(v float64) float64 { return max(v, -v) }

// window reads one tile's ground through GDAL's MBTiles driver.
func window(t *testing.T, o *worker) {
	id := tiles.At(-70.3, 41.7, 12) // on the cape
	p := openPack(t, o)
	data, err := p.Tile(t.Context(), id)
	if err != nil || data == nil {
		t.Fatalf("tile %v: %v", id, err)
	}
	half := 20037508.342789244
	cell := 2 * half / (1 << 12)
	num := func(v float64) string { return strconv.FormatFloat(v, 'f', 9, 64) }
	tool(t, o.dir, "gdal_translate", "-q", "-of", "PNG", "-b", "1", "-b", "2", "-b", "3", "-projwin",
		num(-half+float64(id.X)*cell), num(half-float64(id.Y)*cell), num(-half+float64(id.X+1)*cell), num(half-float64(id.Y+1)*cell), o.packPath(), "window.png")
	read, err := os.ReadFile(o.path("window.png"))
	if err != nil {
		t.Fatal(err)
	}
	config, err := png.DecodeConfig(bytes.NewReader(read))
	if err != nil || config.Width != 256 || config.Height != 256 {
		t.Fatalf("GDAL's window is %d by %d, %v", config.Width, config.Height, err)
	}
	if !bytes.Equal(pixels(t, read), pixels(t, data)) {
		t.Error("GDAL reads other pixels than the tile has")
	}
}

// TestOutsideShell deletes a tile with the sqlite3 shell: check must say not
// fit and name it.
func TestOutsideShell(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	id := tiles.At(-140.5, 40.5, 20)
	tool(t, o.dir, "sqlite3", o.packPath(), fmt.Sprintf("DELETE FROM tiles WHERE zoom_level=%d AND tile_column=%d AND tile_row=%d", id.Z, id.X, id.TMSRow()))
	out := o.must(exitNotFit, "check", o.packPath())
	if !strings.Contains(out, "missing") || !strings.Contains(out, id.String()) {
		t.Errorf("%s", out)
	}
	if ok := tool(t, o.dir, "sqlite3", o.packPath(), "PRAGMA integrity_check; PRAGMA journal_mode;"); strings.Fields(ok)[0] != "ok" || strings.Fields(ok)[1] != "delete" {
		t.Errorf("the shell says %s", ok)
	}
}

// TestOutsideDiskFull packs onto a disk that is too small: first the store,
// then the pack.
func TestOutsideDiskFull(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	mount := func(name, size string) string {
		dir := o.path(name)
		if err := os.MkdirAll(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		tool(t, o.dir, "mount", "-t", "tmpfs", "-o", "size="+size, "tmpfs", dir)
		t.Cleanup(func() { tool(t, o.dir, "umount", dir) })
		return dir
	}
	full := mount("small-store", "200k")
	code, out, errText := o.doPlain("pack", o.path("site"), "--store", full, "--sources", o.path("sources.toml"))
	if code != exitOutside || !strings.Contains(errText, "full") {
		t.Errorf("store: exit %d: %s%s", code, out, errText)
	}
	mount(filepath.Join("site", "out"), "100k")
	code, out, errText = o.do("pack", o.path("site"))
	if code != exitOutside || !strings.Contains(errText, "full") {
		t.Errorf("pack: exit %d: %s%s", code, out, errText)
	}
	if left, err := os.ReadDir(o.path("site", "out")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

func (o *worker) doPlain(args ...string) (code int, out, err string) {
	var stdout, stderr bytes.Buffer
	code = run(o.t.Context(), args, &stdout, &stderr)
	return code, stdout.String(), stderr.String()
}

// TestOutsideMercator holds the projection against PROJ's cs2cs.
func TestOutsideMercator(t *testing.T) {
	c := exec.Command("cs2cs", "-f", "%.9f", "+proj=longlat +datum=WGS84", "+to", "EPSG:3857")
	var in, out bytes.Buffer
	var want [][2]float64
	for lat := -85.0; lat <= 85; lat += 8.5 {
		for lon := -180.0; lon <= 180; lon += 22.5 {
			fmt.Fprintf(&in, "%.9f %.9f\n", lon, lat)
			x, y := tiles.Project(lon, lat)
			want = append(want, [2]float64{(x - 0.5) * 40075016.685578488, (0.5 - y) * 40075016.685578488})
		}
	}
	c.Stdin, c.Stdout = &in, &out
	if err := c.Run(); err != nil {
		t.Fatal(err)
	}
	numbers := regexp.MustCompile(`-?\d+\.\d+`).FindAllString(out.String(), -1)
	for i, w := range want {
		x, _ := strconv.ParseFloat(numbers[i*3], 64)
		y, _ := strconv.ParseFloat(numbers[i*3+1], 64)
		if abs(x-w[0]) > 1e-6 || abs(y-w[1]) > 1e-6 {
			t.Errorf("PROJ says %v %v, here %v", x, y, w)
		}
	}
}

//go:build outside

package discover_test

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/discover"
	faults "groundsheet/tiles/fault"
	"groundsheet/tiles/source"
)

// rangeServer serves one picture as careful servers do, and remembers what it was
// asked.
type rangeServer struct {
	*httptest.Server
	mu     sync.Mutex
	asked  []string // ranges
	agents map[string]bool
	times  []time.Time
	answer func(w http.ResponseWriter, r *http.Request) bool // true = it answered itself
}

func serveRanges(t *testing.T, data []byte) *rangeServer {
	t.Helper()
	s := &rangeServer{agents: map[string]bool{}}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.mu.Lock()
		s.asked, s.times = append(s.asked, r.Header.Get("Range")), append(s.times, time.Now())
		s.agents[r.UserAgent()] = true
		answer := s.answer
		s.mu.Unlock()
		if answer != nil && answer(w, r) {
			return
		}
		w.Header().Set("ETag", `"v1"`)
		http.ServeContent(w, r, "ortho.tif", time.Unix(1.7e9, 0), bytes.NewReader(data))
	}))
	t.Cleanup(s.Close)
	return s
}

func (s *rangeServer) set(answer func(w http.ResponseWriter, r *http.Request) bool) {
	s.mu.Lock()
	s.answer = answer
	s.mu.Unlock()
}

// cog is a cloud-optimized GeoTIFF of noise, 16 MB, on the ground of region.
func cog(t *testing.T) []byte {
	t.Helper()
	dir := t.TempDir()
	raw := []byte("P6\n2400 2400\n255\n")
	seed := uint32(1)
	for range 2400 * 2400 * 3 {
		seed = seed*1664525 + 1013904223
		raw = append(raw, byte(seed>>24))
	}
	if err := os.WriteFile(filepath.Join(dir, "a.ppm"), raw, 0o600); err != nil {
		t.Fatal(err)
	}
	_, _, box := region()
	gdal(t, dir, "gdal_translate", "-q", "-of", "COG", "-co", "COMPRESS=NONE", "-a_srs", "EPSG:3857", "-a_ullr", fmt.Sprint(box.West), fmt.Sprint(box.North),
		fmt.Sprint(box.East), fmt.Sprint(box.South), "a.ppm", "a.tif")
	data, err := os.ReadFile(filepath.Join(dir, "a.tif"))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// TestOutsideRanges: a picture at an address is read in parts, at the pace of its
// terms, and only as much as is needed.
func TestOutsideRanges(t *testing.T) {
	data := cog(t)
	s := serveRanges(t, data)
	src := source.Source{Name: "far", Kind: source.KindRaster, URL: s.URL + "/ortho.tif", TileSize: 256, Format: "image/png", Zooms: tiles.Zooms{Max: 22},
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 20, Connections: 2, Contact: "maps@office.example"}}
	offers, err := discover.Describe(t.Context(), source.Source{URL: src.URL}, discover.Options{})
	if err != nil || len(offers) != 1 || offers[0].Source.Kind != source.KindRaster || offers[0].Source.Zooms.Max < 17 || offers[0].Source.URL != src.URL {
		t.Fatalf("%+v, %v", offers, err)
	}
	s.asked, s.times, s.agents = nil, nil, map[string]bool{}
	ready, client, done, err := discover.Open(t.Context(), src, discover.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer done()
	first, _, _ := region()
	ask := func(id tiles.ID) (int, []byte) {
		t.Helper()
		p, err := discover.ProbeTile(t.Context(), ready, id, client, discover.Options{})
		if err != nil {
			t.Fatal(err)
		}
		return p.Status, p.Data
	}
	deep := tiles.ID{Z: 20, X: first.X << 4, Y: first.Y << 4}
	if status, got := ask(deep); status != 200 || len(got) < 10_000 {
		t.Fatalf("%d, %d bytes", status, len(got))
	}
	if status, _ := ask(tiles.ID{Z: 16, X: first.X + 40, Y: first.Y}); status != 404 {
		t.Errorf("beside it: %d", status)
	}
	after := len(s.asked)
	if int64(after)*256<<10 > int64(len(data))/2 {
		t.Errorf("%d requests for one tile of %d bytes", after, len(data))
	}
	if len(s.agents) != 1 || !s.agents["groundsheet/1.0 (maps@office.example)"] {
		t.Errorf("asked by %v", s.agents)
	}
	for i, r := range s.asked {
		if !strings.HasPrefix(r, "bytes=") {
			t.Errorf("request %d is for %q", i, r)
		}
	}
	// 20 a second: any 21 of them take no less than a second, with some slack for
	// requests that were late on the way.
	for i := 20; i < len(s.times); i++ {
		if d := s.times[i].Sub(s.times[i-20]); d < 900*time.Millisecond {
			t.Errorf("21 requests within %v", d)
		}
	}
	s.set(func(w http.ResponseWriter, _ *http.Request) bool {
		w.Header().Set("Retry-After", "7")
		w.WriteHeader(503)
		return true
	})
	far := tiles.ID{Z: 20, X: deep.X + 24, Y: deep.Y + 24}
	p, err := discover.ProbeTile(t.Context(), ready, far, client, discover.Options{})
	if err != nil || p.Status != 503 || p.Header.Get("Retry-After") != "7" {
		t.Errorf("%d %v, %v", p.Status, p.Header, err)
	}
	s.set(func(w http.ResponseWriter, r *http.Request) bool {
		w.Header().Set("ETag", `"v2"`)
		http.ServeContent(w, r, "", time.Unix(1.8e9, 0), bytes.NewReader(data))
		return true
	})
	ready2, client2, done2, err := discover.Open(t.Context(), src, discover.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer done2()
	s.set(nil)
	if p, err := discover.ProbeTile(t.Context(), ready2, far, client2, discover.Options{}); err != nil || p.Status != 409 {
		t.Errorf("another version under way: %d, %v", p.Status, err)
	}
}

// TestRangesRefused: servers that cannot be used say so at once, and what the
// terms do not allow is not asked.
func TestOutsideRangesRefused(t *testing.T) {
	data := cog(t)[:1<<20]
	s := serveRanges(t, data)
	other := serveRanges(t, data)
	src := source.Source{Name: "far", Kind: source.KindRaster, URL: s.URL + "/ortho.tif", TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 50, Connections: 2}}
	for name, c := range map[string]struct {
		answer func(w http.ResponseWriter, r *http.Request) bool
		want   string
	}{
		"no ranges": {func(w http.ResponseWriter, _ *http.Request) bool { _, _ = w.Write(data[:1000]); return true }, "does not send parts"},
		"refused":   {func(w http.ResponseWriter, _ *http.Request) bool { w.WriteHeader(403); return true }, "403"},
		"another host": {func(w http.ResponseWriter, r *http.Request) bool {
			http.Redirect(w, r, strings.Replace(other.URL, "127.0.0.1", "localhost", 1)+"/x.tif", 302)
			return true
		}, "leads to"},
	} {
		s.set(c.answer)
		_, _, done, err := discover.Open(t.Context(), src, discover.Options{})
		if done != nil {
			_ = done()
		}
		var f *faults.Fault
		if !errors.As(err, &f) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if len(other.asked) > 0 {
		t.Error("another host was asked")
	}
	s.set(nil) // its data ends within the picture
	ready, client, done, err := discover.Open(t.Context(), src, discover.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer done()
	first, _, _ := region()
	ready.Zooms = tiles.Zooms{Max: 22}
	if p, err := discover.ProbeTile(t.Context(), ready, tiles.ID{Z: 20, X: first.X<<4 + 20, Y: first.Y<<4 + 20}, client, discover.Options{}); err == nil || !strings.Contains(err.Error(), "GDAL") {
		t.Errorf("cut short: %d, %v", p.Status, err)
	}
	before := len(s.asked)
	closed := discover.Options{Now: func() time.Time { return time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC) }}
	hours, err := source.Read([]byte("[far]\nkind=\"raster\"\nurl=\""+src.URL+"\"\nzooms=[1,2]\n[far.terms]\noffline=\"allowed\"\nhours=[\"20:00-06:00\"]\ntime_zone=\"UTC\"\n"), "s")
	if err != nil {
		t.Fatal(err)
	}
	night, _ := hours.Find("far")
	if _, _, _, err := discover.Open(t.Context(), night, closed); err == nil || !strings.Contains(err.Error(), "hours that its terms allow") || len(s.asked) != before {
		t.Errorf("%v, %d requests", err, len(s.asked)-before)
	}
}

package serve

import (
	"bytes"
	"groundsheet/serve/catalog"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"
)

// looked opens a server that looks only when told to.
func looked(t *testing.T, log *slog.Logger, paths ...string) (*Server, *httptest.Server) {
	t.Helper()
	s, err := Open(t.Context(), paths, Options{Page: page, Poll: -1, Log: log})
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(s)
	t.Cleanup(func() { h.Close(); _ = s.Close() })
	return s, h
}

func rename(t *testing.T, from, to string) {
	t.Helper()
	if err := os.Rename(from, to); err != nil {
		t.Fatal(err)
	}
}

// looks looks as often as a new file needs to take over.
func looks(t *testing.T, s *Server) {
	t.Helper()
	s.Scan(t.Context())
	s.Scan(t.Context())
}

// openFiles counts the open files of this process whose name holds text; -1
// where the system does not tell.
func openFiles(text string) int {
	all, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return -1
	}
	n := 0
	for _, fd := range all {
		if to, err := os.Readlink("/proc/self/fd/" + fd.Name()); err == nil && strings.Contains(to, text) {
			n++
		}
	}
	return n
}

func wantState(t *testing.T, s *Server, i int, name, trouble string) catalog.PackState {
	t.Helper()
	p := s.Packs()[i]
	if p.Name != name || trouble == "" && p.Trouble != "" || !strings.Contains(p.Trouble, trouble) {
		t.Errorf("pack %d is %q in trouble %q, want %q in trouble %q", i, p.Name, p.Trouble, name, trouble)
	}
	return p
}

// TestPackIsExchanged: a file renamed over a served one takes over under the
// same id; what ran on the old one finishes, and then its file is closed.
func TestPackIsExchanged(t *testing.T) {
	path := makePack(t, "Site one")
	s, h := looked(t, nil, path)
	var told []catalog.PackState
	s.OnPack(func(p catalog.PackState) { told = append(told, p) })
	before := wantState(t, s, 0, "Site one", "")
	running, known := s.packs.Acquire("site-one")
	if !known || running == nil {
		t.Fatal("not served")
	}
	rename(t, makePack(t, "Site two"), path)
	s.Scan(t.Context())
	wantState(t, s, 0, "Site one", "")
	s.Scan(t.Context())
	after := wantState(t, s, 0, "Site two", "")
	if after.ID != before.ID || after.Version == before.Version || len(told) != 1 || told[0] != after {
		t.Errorf("before %+v, after %+v, told %+v", before, after, told)
	}
	if v := documentAt(t, h.URL+"/packs/site-one/about.json"); v["name"] != "Site two" {
		t.Errorf("%v", v["name"])
	}
	if data, err := running.File.Tile(t.Context(), deepest17); err != nil || data == nil {
		t.Errorf("a request on the old pack: %v", err)
	}
	running.Release()
	if n := openFiles("p.mbtiles (deleted)"); n > 0 {
		t.Errorf("%d files of the old pack are still open", n)
	}
}

// TestTwoPacksAreNeverMixed: what is first read after the file was exchanged
// does not come from the new one under the old one's name.
func TestTwoPacksAreNeverMixed(t *testing.T) {
	path := makePack(t, "Site one")
	s, _ := looked(t, nil, path)
	p, _ := s.packs.Acquire("site-one")
	defer p.Release()
	rename(t, makePack(t, "Site two"), path)
	var wg sync.WaitGroup
	for range 8 { // more readers than connections are open
		wg.Go(func() {
			for range 20 {
				if body, err := p.File.OverlayGeoJSON(t.Context(), "1-water"); err != nil || body == nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if n := openFiles(path); n > openFiles("p.mbtiles (deleted)") {
		t.Errorf("%d files of the new pack were opened for the old one", n)
	}
}

// TestBadNewcomerIsRefused: the old pack goes on, the log says so once, and a
// good one takes over later.
func TestBadNewcomerIsRefused(t *testing.T) {
	var log bytes.Buffer
	path := makePack(t, "Site one")
	s, h := looked(t, slog.New(slog.NewTextHandler(&log, nil)), path)
	bad := filepath.Join(t.TempDir(), "bad")
	if err := os.WriteFile(bad, []byte(strings.Repeat("no pack ", 100)), 0o644); err != nil {
		t.Fatal(err)
	}
	rename(t, bad, path)
	looks(t, s)
	looks(t, s)
	wantState(t, s, 0, "Site one", "still served")
	if n := strings.Count(log.String(), "refused"); n != 1 {
		t.Errorf("%d lines:\n%s", n, log.String())
	}
	if resp, _ := get(t, h.URL+"/packs/site-one/tiles/"+deepest17.String()+".png"); resp.StatusCode != 200 {
		t.Errorf("the old pack: %s", resp.Status)
	}
	rename(t, makePack(t, "Site two"), path)
	looks(t, s)
	wantState(t, s, 0, "Site two", "")
}

func TestGonePackIsTold(t *testing.T) {
	path := makePack(t, "Site one")
	s, h := looked(t, nil, path)
	aside := path + "-aside"
	rename(t, path, aside)
	s.Scan(t.Context())
	wantState(t, s, 0, "Site one", "gone")
	if resp, _ := get(t, h.URL+"/packs/site-one/about.json"); resp.StatusCode != 200 {
		t.Errorf("%s", resp.Status)
	}
	rename(t, aside, path)
	s.Scan(t.Context())
	wantState(t, s, 0, "Site one", "")
}

// TestChangedInPlace: nothing is served while a file changes under the server.
func TestChangedInPlace(t *testing.T) {
	path := makePack(t, "Site one")
	s, h := looked(t, nil, path)
	data, err := os.ReadFile(makePack(t, "Site two"))
	if err != nil {
		t.Fatal(err)
	}
	url := h.URL + "/packs/site-one/about.json"
	if err := os.WriteFile(path, data[:len(data)/2], 0o644); err != nil {
		t.Fatal(err)
	}
	s.Scan(t.Context())
	wantState(t, s, 0, "", "changed in place while it was served")
	if resp, _ := get(t, url); resp.StatusCode != 503 || resp.Header.Get("Retry-After") == "" {
		t.Errorf("%s %v", resp.Status, resp.Header)
	}
	looks(t, s)
	wantState(t, s, 0, "", "cut short")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	looks(t, s)
	wantState(t, s, 0, "Site two", "")
	documentAt(t, url)
}

// TestFolder: every pack in a folder is served; new ones come, removed ones go,
// and one that comes back has its old id.
func TestFolder(t *testing.T) {
	dir := t.TempDir()
	s, h := looked(t, nil, dir)
	if len(s.Packs()) != 0 {
		t.Fatalf("%+v", s.Packs())
	}
	a := filepath.Join(dir, "a.mbtiles")
	for _, name := range []string{"b.mbtiles", ".hidden.mbtiles", "notes.txt"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("no pack"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	rename(t, makePack(t, "Site one"), a)
	looks(t, s)
	if len(s.Packs()) != 2 || s.Packs()[1].ID != "" {
		t.Fatalf("%+v", s.Packs())
	}
	wantState(t, s, 0, "Site one", "")
	wantState(t, s, 1, "", "refused")
	rename(t, a, a+"-aside")
	s.Scan(t.Context())
	wantState(t, s, 0, "", "no longer served")
	if resp, _ := get(t, h.URL+"/packs/site-one/about.json"); resp.StatusCode != 503 {
		t.Errorf("%s", resp.Status)
	}
	if n := openFiles("a.mbtiles-aside"); n > 0 {
		t.Errorf("%d open files of a pack that is not served", n)
	}
	rename(t, makePack(t, "Site two"), a)
	rename(t, makePack(t, "Site one"), filepath.Join(dir, "c.mbtiles"))
	looks(t, s)
	if p := wantState(t, s, 0, "Site two", ""); p.ID != "site-one" {
		t.Errorf("its id became %s", p.ID)
	}
	if p := wantState(t, s, 2, "Site one", ""); p.ID != "site-one-2" {
		t.Errorf("the id is %s", p.ID)
	}
	if packs := documentAt(t, h.URL+"/packs.json")["packs"].([]any); len(packs) != 2 {
		t.Errorf("%v", packs)
	}
}

// TestExchangedUnderLoad: no request fails while packs are exchanged by the
// server's own looking, and nothing stays behind.
func TestExchangedUnderLoad(t *testing.T) {
	path := makePack(t, "Site one")
	routines := runtime.NumGoroutine()
	s, err := Open(t.Context(), []string{path}, Options{Page: page, Poll: 5 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	stop := make(chan struct{})
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
				}
				for _, rest := range []string{"tiles/" + deepest17.String() + ".png", "overlays/1-water.geojson", "tilejson.json"} {
					w := httptest.NewRecorder()
					s.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/packs/site-one/"+rest, nil))
					if w.Code != 200 {
						t.Errorf("%s: %d %s", rest, w.Code, w.Body)
					}
				}
			}
		})
	}
	for range 10 {
		version := s.Packs()[0].Version
		rename(t, makePack(t, "Site one"), path)
		for began := time.Now(); s.Packs()[0].Version == version; time.Sleep(time.Millisecond) {
			if time.Since(began) > 20*time.Second {
				t.Fatal("the new pack did not take over")
			}
		}
	}
	close(stop)
	wg.Wait()
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if n := openFiles("p.mbtiles"); n > 0 {
		t.Errorf("%d files of packs are still open", n)
	}
	for began := time.Now(); runtime.NumGoroutine() > routines; time.Sleep(time.Millisecond) {
		if time.Since(began) > 20*time.Second {
			t.Fatalf("%d goroutines, %d before", runtime.NumGoroutine(), routines)
		}
	}
}

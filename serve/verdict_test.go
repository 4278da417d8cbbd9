package serve

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"groundsheet/pack/check"
	"groundsheet/serve/catalog"
	"groundsheet/tiles/sqlite"
)

// spoiled is a pack whose deepest tile is gone: one fault.
func spoiled(t *testing.T, name string) string {
	t.Helper()
	path := makePack(t, name)
	db := sqlite.Open(path, sqlite.Options{Settings: "mode=rw"})
	if _, err := db.Exec(`DELETE FROM groundsheet_place WHERE zoom_level = 17`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

// checking opens a server and has it check what it serves until the test ends.
func checking(t *testing.T, paths ...string) (s *Server, begin func()) {
	t.Helper()
	s, err := Open(t.Context(), paths, Options{Page: page, Poll: -1})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	began := false
	t.Cleanup(func() {
		if stop(); began {
			<-done
		}
		_ = s.Close()
	})
	return s, func() {
		began = true
		go func() { defer close(done); s.Check(ctx) }()
	}
}

func askFor(t *testing.T, s *Server, path string) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), http.MethodGet, path, nil))
	return w
}

// told reads the verdict out of a document of one pack.
func told(t *testing.T, s *Server, path string) (v catalog.Verdict) {
	t.Helper()
	var d struct {
		Verdict catalog.Verdict
		Packs   []struct{ Verdict catalog.Verdict }
	}
	if err := json.Unmarshal(askFor(t, s, path).Body.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	if len(d.Packs) > 0 {
		return d.Packs[0].Verdict
	}
	return d.Verdict
}

var faces = []string{"/packs.json", "/packs/site-one/about.json", "/status.json"}

// TestVerdictUnchecked: what was not checked yet is nowhere said to be well.
func TestVerdictUnchecked(t *testing.T) {
	s, _ := checking(t, makePack(t, "Site one"))
	for _, face := range faces {
		if v := told(t, s, face); v.State != catalog.Unchecked || v.First == nil {
			t.Errorf("%s: %+v", face, v)
		}
	}
	text := pageOf(t, s)
	if !strings.Contains(text, "1 pack has not been checked yet.") || strings.Contains(text, "All OK") {
		t.Errorf("%s", text)
	}
	if w := askFor(t, s, "/healthz"); w.Code != 200 || w.Header().Get("Groundsheet-Verdict") != catalog.Unchecked {
		t.Errorf("%d %v", w.Code, w.Header())
	}
}

// TestVerdictFit: fit says what it is about.
func TestVerdictFit(t *testing.T) {
	s, begin := checking(t, makePack(t, "Site one"))
	tag := askFor(t, s, faces[1]).Header().Get("ETag")
	begin()
	within(t, "fit", func() bool { return told(t, s, faces[0]).Fit() })
	for _, face := range faces {
		if v := told(t, s, face); !v.Fit() || v.Faults != 0 {
			t.Errorf("%s: %+v", face, v)
		}
	}
	if askFor(t, s, faces[1]).Header().Get("ETag") == tag {
		t.Error("a phone would keep the job without its verdict")
	}
	text := pageOf(t, s)
	if !strings.Contains(text, "All OK.") || !strings.Contains(text, "This says nothing about the ground.") {
		t.Errorf("%s", text)
	}
	if w := askFor(t, s, "/healthz"); w.Code != 200 || w.Body.String() != "ok\n" || w.Header().Get("Groundsheet-Verdict") != check.Fit {
		t.Errorf("%d %s %v", w.Code, w.Body, w.Header())
	}
}

// TestVerdictNotFit: a pack without one of its tiles is not fit on every face,
// with its fault in words and without the folder it lies in.
func TestVerdictNotFit(t *testing.T) {
	path := spoiled(t, "Site one")
	s, begin := checking(t, path)
	begin()
	within(t, "not fit", func() bool { return told(t, s, faces[0]).NotFit() })
	for _, face := range faces {
		if v := told(t, s, face); v.Faults != 1 || len(v.First) != 1 || !strings.Contains(v.First[0], "is wanted but not in the pack") {
			t.Errorf("%s: %+v", face, v)
		}
	}
	const want = "NOT FIT: do not rely on this pack. 1 fault: tile 17/"
	text := pageOf(t, s)
	if !strings.Contains(text, want) || strings.Contains(text, "All OK") || strings.Contains(text, filepath.Dir(path)) {
		t.Errorf("%s", text)
	}
	if all := reportOf(t, s).Warnings; len(all) != 1 || !strings.HasPrefix(all[0], "p.mbtiles: "+want) {
		t.Errorf("%q", all)
	}
	w := askFor(t, s, "/healthz")
	if w.Code != 503 || !strings.HasPrefix(w.Body.String(), "site-one: "+want) || w.Header().Get("Groundsheet-Verdict") != check.NotFit {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

// TestVerdictOfTheNewVersion: after an exchange nothing is known until the new
// version is checked; then open maps are told.
func TestVerdictOfTheNewVersion(t *testing.T) {
	path := makePack(t, "Site one")
	s, begin := checking(t, path)
	l := hear(t, serveStreams(t, s).URL)
	state := func(want string) func(received) bool {
		return func(e received) bool {
			all, _ := e.data["verdicts"].(map[string]any)
			one, _ := all["site-one"].(map[string]any)
			return e.name == "verdicts" && one["state"] == want
		}
	}
	old := l.until(t, "the first verdict", state(catalog.Unchecked))
	begin()
	l.until(t, "fit", state(check.Fit))
	if err := os.Rename(spoiled(t, "Site one"), path); err != nil {
		t.Fatal(err)
	}
	s.Scan(t.Context())
	s.Scan(t.Context())
	bad := l.until(t, "not fit", state(check.NotFit))
	version := func(e received) any {
		return e.data["verdicts"].(map[string]any)["site-one"].(map[string]any)["version"]
	}
	if version(old) == version(bad) || version(bad) != s.Packs()[0].Version {
		t.Errorf("the verdict is of another version: %v, %v", version(old), version(bad))
	}
}

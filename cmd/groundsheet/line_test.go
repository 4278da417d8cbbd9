package main

import (
	"bytes"
	"context"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/tiles/practice"
	"groundsheet/tiles/sqlite"
)

type packed struct {
	File                                                     string
	Wanted, Tiles, Fetched, Unchanged, Reused, Absent, Bytes int64
	Requests                                                 int64
	Verdict                                                  string
}

// TestServeSaysNotFit: a pack that is served is checked at the same time.
func TestServeSaysNotFit(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	serve := func() string {
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
		defer cancel()
		var out, errs bytes.Buffer
		a := &app{out: &out, err: &errs, page: fstest.MapFS{"index.html": {Data: []byte("map")}}}
		if code := a.run(ctx, []string{"serve", o.packPath(), "--listen", "127.0.0.1:0"}); code != 0 {
			t.Fatalf("exit %d: %s", code, errs.String())
		}
		return out.String()
	}
	if out := serve(); !strings.Contains(out, "is fit") || !strings.Contains(out, "map: http://127.0.0.1:") {
		t.Errorf("%s", out)
	}
	db := sqlite.Open(o.packPath(), sqlite.Options{Settings: "mode=rw"})
	if _, err := db.Exec(`DELETE FROM tiles WHERE zoom_level=20`); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if out := serve(); !strings.Contains(out, "NOT FIT") {
		t.Errorf("%s", out)
	}
}

// TestKeyAndFirstZoom: a source that begins at zoom 8 and wants a key, as
// county servers do. Without the key nothing is asked or made; with it the key
// shows up nowhere.
func TestKeyAndFirstZoom(t *testing.T) {
	o := newWorker(t)
	const secret = "s3cret+/%&key"
	draws := practice.New(practice.Options{BusyEvery: -1})
	var asked atomic.Int64
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		if r.URL.Query().Get("key") != secret {
			http.Error(w, "no key", http.StatusForbidden)
			return
		}
		draws.ServeHTTP(w, r)
	}))
	defer server.Close()
	o.write("sources.toml", strings.Replace(sourceText("county", server.URL+"/{z}/{x}/{y}.jpg?key={key}", `key_env = "TEST_COUNTY_KEY"`), "[0, 22]", "[8, 21]", 1))
	o.must(0, "new", o.path("site"), "--name", "Test site", "--around", "40.5,-140.5", "--radius", "30ft", "--zooms", "17,19")
	before := o.snapshot()
	if code, _, errText := o.do("pack", o.path("site")); code != exitUse || !strings.Contains(errText, "TEST_COUNTY_KEY") || asked.Load() > 0 || !maps.Equal(before, o.snapshot()) {
		t.Errorf("without the key: exit %d, %d asked: %s", code, asked.Load(), errText)
	}
	t.Setenv("TEST_COUNTY_KEY", secret)
	out := o.must(0, "pack", o.path("site"), "--json")
	for path := range o.snapshot() {
		data, err := os.ReadFile(path)
		if err == nil && bytes.Contains(data, []byte("s3cret")) {
			t.Errorf("the key is in %s", path)
		}
	}
	if strings.Contains(out, "s3cret") {
		t.Error("the key is in the output")
	}
}

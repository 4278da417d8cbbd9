package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"
	"time"

	newer "groundsheet/pack/update"
	"groundsheet/serve"
	"groundsheet/tiles/practice"
)

// TestServeTakesUpdates: an update that comes into the folder brings the served pack to the
// newer one; one of another pack and one that is damaged change nothing.
func TestServeTakesUpdates(t *testing.T) {
	o := newWorker(t)
	o.startSource(practice.Options{BusyEvery: -1})
	o.newJob()
	o.must(0, "pack", o.path("site"))
	old, err := os.ReadFile(o.packPath())
	if err != nil {
		t.Fatal(err)
	}
	served, stick := o.write("served.mbtiles", string(old)), filepath.Join(t.TempDir(), "a [stick]")
	text, err := os.ReadFile(o.path("site", "job.toml"))
	if err != nil {
		t.Fatal(err)
	}
	o.write("site/water.geojson", `{"type":"FeatureCollection","features":[]}`)
	o.write("site/job.toml", string(text)+"\n[[overlay]]\nfile = \"water.geojson\"\nutility = \"water\"\n")
	o.must(0, "pack", o.path("site"))
	update := o.path("site.update")
	if _, err := newer.Write(t.Context(), served, o.packPath(), update, newer.Options{}); err != nil {
		t.Fatal(err)
	}
	good, err := os.ReadFile(update)
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile(o.packPath())
	if err != nil {
		t.Fatal(err)
	}
	s, err := serve.Open(t.Context(), []string{served}, serve.Options{Page: fstest.MapFS{"index.html": {Data: []byte("map")}}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	ctx, stop := context.WithCancel(t.Context())
	var out lines
	done := make(chan struct{})
	go func() {
		defer close(done)
		(&app{out: &out, err: &lines{}}).takeUpdates(ctx, s, stick, 10*time.Millisecond)
	}()
	put := func(name string, data []byte) {
		t.Helper()
		if err := os.MkdirAll(stick, 0o755); err != nil { // it is plugged in
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(stick, name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("damaged.update", good[:len(good)-1])
	out.wait(t, "damaged.update: is damaged")
	if now, err := os.ReadFile(served); err != nil || !bytes.Equal(now, old) {
		t.Errorf("a damaged update changed the pack: %v", err)
	}
	put("good.update", good)
	out.wait(t, "served.mbtiles is now the newer pack, seal ")
	if now, err := os.ReadFile(served); err != nil || !bytes.Equal(now, want) {
		t.Errorf("what is served is not the newer pack: %v", err)
	}
	put("again.update", good)
	out.wait(t, "is the newer pack already")
	other := o.write("other.mbtiles", string(old)+"x")
	if err := os.Rename(other, served); err != nil {
		t.Fatal(err)
	}
	put("late.update", good)
	out.wait(t, "no pack that is served is the one that it begins with")
	stop()
	<-done
}

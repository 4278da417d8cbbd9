package desk

import (
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// TestChangedPlaces: what a refresh finds changed is shown as places: the deepest tiles
// that changed, not all those above them.
func TestChangedPlaces(t *testing.T) {
	var later atomic.Bool
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		img := image.NewRGBA(image.Rect(0, 0, 256, 256))
		img.Set(len(r.URL.Path), int(r.URL.Path[len(r.URL.Path)-5]), color.White)
		if later.Load() { // all zooms, everywhere
			img.Set(3, 3, color.White)
			img.Set(200, 100, color.White)
		}
		w.Header().Set("Cache-Control", "max-age=0")
		_ = jpeg.Encode(w, img, nil)
	}))
	t.Cleanup(server.Close)
	o := open(t)
	dir, id := o.job("valve", strings.Replace(someJob, `"practice"`, `"county"`, 1))
	text := fmt.Sprintf("[county]\nkind = \"xyz\"\nurl = %q\nzooms = [0, 22]\nattribution = \"Invented\"\n"+
		"[county.terms]\noffline = \"allowed\"\nreference = \"x\"\nrequests_per_second = 500\nconnections = 4\nkeep_at_least = \"1s\"\n",
		server.URL+"/{z}/{x}/{y}.jpg")
	if err := os.WriteFile(filepath.Join(dir, "sources.toml"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	o.done(o.start("pack", id), nil)
	later.Store(true)
	time.Sleep(1100 * time.Millisecond) // what is held is no longer fresh
	var packs struct{ Packs []packedBase }
	o.done(o.start("refresh", id), &packs)
	var changes struct {
		Places struct {
			Features []struct{ Properties struct{ Zoom int } }
		}
	}
	o.wants(200, "/api/jobs/"+id+"/changes", nil, &changes)
	shown, all := changes.Places.Features, packs.Packs[0].Changes
	if all.Changed != int(packs.Packs[0].Tiles) || len(shown) == 0 || len(shown) >= all.Changed {
		t.Errorf("%d places for %+v", len(shown), all)
	}
	for _, f := range shown {
		if f.Properties.Zoom != 18 {
			t.Errorf("a place of zoom %d: those below it changed too", f.Properties.Zoom)
		}
	}
}

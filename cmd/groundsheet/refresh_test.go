package main

import (
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles"
)

// moody is a source whose answers are stale at once, and which changes some of
// its tiles and takes others away.
type moody struct {
	mu            sync.Mutex
	changed, gone map[string]bool // paths
	bare          int             // requests without a condition
	asked         int
}

func (m *moody) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	m.mu.Lock()
	changed, gone := m.changed[r.URL.Path], m.gone[r.URL.Path]
	m.asked++
	if r.Header.Get("If-None-Match") == "" {
		m.bare++
	}
	m.mu.Unlock()
	if gone {
		w.WriteHeader(http.StatusGone)
		return
	}
	tag, shade := fmt.Sprintf("%q", r.URL.Path), uint8(90)
	if changed {
		tag, shade = fmt.Sprintf("%q", r.URL.Path+"-2"), 200
	}
	w.Header().Set("Cache-Control", "max-age=0")
	w.Header().Set("ETag", tag)
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	img := image.NewGray(image.Rect(0, 0, 256, 256))
	for i := range img.Pix {
		img.Pix[i] = shade
	}
	img.SetGray(len(r.URL.Path), int(r.URL.Path[len(r.URL.Path)-5]), color.Gray{})
	_ = jpeg.Encode(w, img, nil)
}

func (m *moody) counts() (asked, bare int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	asked, bare = m.asked, m.bare
	m.asked, m.bare = 0, 0
	return asked, bare
}

// TestRefresh: only conditional requests; the pack stays while nothing changed,
// and the report says what did.
func TestRefresh(t *testing.T) {
	o := newWorker(t)
	m := &moody{changed: map[string]bool{}, gone: map[string]bool{}}
	server := httptest.NewServer(m)
	t.Cleanup(server.Close)
	o.write("sources.toml", strings.Replace(sourceText("town", server.URL+"/{z}/{x}/{y}.jpg", ""), "connections = 8", "connections = 8\nkeep_at_least = \"1s\"", 1))
	o.newJob()
	o.must(0, "pack", o.path("site"))
	time.Sleep(1100 * time.Millisecond) // the clock of the program is the real one
	m.counts()
	before := o.snapshot()[o.packPath()]
	var d refreshDocument
	decode(t, o.must(0, "refresh", o.path("site"), "--json"), &d)
	asked, bare := m.counts()
	if int64(asked) != d.Wanted || bare != 0 || d.Asked != d.Wanted || d.Unchanged != d.Wanted || d.Rewritten || d.Verdict != "fit" || o.snapshot()[o.packPath()] != before {
		t.Errorf("%d asked, %d without condition: %+v", asked, bare, d)
	}
	deep := tiles.At(-140.5, 40.5, 20)
	gone := deep
	gone.X++
	m.mu.Lock()
	m.changed["/"+deep.String()+".jpg"], m.gone["/"+gone.String()+".jpg"] = true, true
	m.mu.Unlock()
	time.Sleep(1100 * time.Millisecond)
	out := o.must(0, "refresh", o.path("site"))
	for _, says := range []string{"1 changed, 0 new, 1 gone", "zoom 20: 1 changed, 1 gone", deep.String(), gone.String(), "packed anew", ": fit"} {
		if !strings.Contains(out, says) {
			t.Errorf("%q is not said:\n%s", says, out)
		}
	}
	if o.snapshot()[o.packPath()] == before {
		t.Error("the pack was not written anew")
	}
}

package office

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/jpeg"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/pack/job"
	"groundsheet/tiles"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store/folder"
)

// counting counts the bytes that go out over a listener's connections.
type counting struct {
	net.Listener
	sent *atomic.Int64
}

func (c counting) Accept() (net.Conn, error) {
	conn, err := c.Listener.Accept()
	return countingConn{conn, c.sent}, err
}

type countingConn struct {
	net.Conn
	sent *atomic.Int64
}

func (c countingConn) Write(b []byte) (int, error) {
	n, err := c.Conn.Write(b)
	c.sent.Add(int64(n))
	return n, err
}

// steady serves an image of its own for every tile. One in ten is fresh for a
// minute, the others for a month.
type steady struct {
	image []byte
	sent  atomic.Int64

	mu    sync.Mutex
	asked []tiles.ID
	bare  int
}

func soonStale(t tiles.ID) bool { return (t.X+3*t.Y)%10 == 0 }

func (s *steady) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	id, err := tiles.ParseID(strings.TrimSuffix(strings.TrimPrefix(r.URL.Path, "/"), ".jpg"))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	tag := fmt.Sprintf("%q", id)
	s.mu.Lock()
	s.asked = append(s.asked, id)
	if r.Header.Get("If-None-Match") != tag {
		s.bare++
	}
	s.mu.Unlock()
	w.Header().Set("Cache-Control", "max-age=2592000")
	if soonStale(id) {
		w.Header().Set("Cache-Control", "max-age=60")
	}
	w.Header().Set("ETag", tag)
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	// a comment of 3 kB makes the image as heavy as a plain aerial one
	comment := make([]byte, 3000)
	comment[0], comment[1] = 0xff, 0xfe
	binary.BigEndian.PutUint16(comment[2:], uint16(len(comment)-2))
	copy(comment[4:], tag)
	_, _ = w.Write(slices.Concat(s.image[:2], comment, s.image[2:]))
}

func (s *steady) take() (asked []tiles.ID, bare int, sent int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	asked, bare = s.asked, s.bare
	s.asked, s.bare = nil, 0
	return asked, bare, s.sent.Swap(0)
}

func startSteady(t *testing.T) (*steady, string) {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 256, 256)), nil); err != nil {
		t.Fatal(err)
	}
	s := &steady{image: b.Bytes()}
	server := httptest.NewUnstartedServer(s)
	server.Listener = counting{server.Listener, &s.sent}
	server.Start()
	t.Cleanup(server.Close)
	return s, server.URL
}

// steadyDesk is a job with a radius in meters.
func steadyDesk(t *testing.T, url string, radius float64) desk {
	t.Helper()
	st, err := folder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = st.Close() })
	src := source.Source{
		Name: "steady", Kind: source.KindXYZ, URL: url + "/{z}/{x}/{y}.jpg", Zooms: tiles.Zooms{Min: 0, Max: 22}, TileSize: 256,
		Terms: &source.Terms{Offline: source.OfflineAllowed, RequestsPerSecond: 1e5, Connections: 8},
	}
	shelf, err := st.Shelf(src.StoreName())
	if err != nil {
		t.Fatal(err)
	}
	return desk{Source: src, Shelf: shelf, Job: job.Job{
		Dir: t.TempDir(), Name: "Steady", Units: "us", Around: []job.Around{{Lat: 40.5, Lon: -140.5, Radius: measure.Distance(radius)}},
		Bases: []job.Base{{Source: "steady", Zooms: tiles.Zooms{Min: 16, Max: 21}}},
	}}
}

// TestRefreshIsCheap: exactly the stale tiles are asked for, each
// with its validator; under 1 % of the first fetch goes over the wire; the pack
// is not touched.
func TestRefreshIsCheap(t *testing.T) {
	radius, atLeast := 310.0, int64(2_000)
	if os.Getenv("GROUNDSHEET_WHOLE") != "" {
		radius, atLeast = 1000, 20_000
	}
	server, url := startSteady(t)
	d := steadyDesk(t, url, radius)
	start := time.Now()
	fillIt := func(at time.Time) Report {
		b := d.base(t, at)
		b.options.compare = true
		r, err := b.pack(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	first := fillIt(start)
	_, _, full := server.take()
	if first.Wanted < atLeast || first.Fetched != first.Wanted || !first.Rewritten || first.Changes.New != int(first.Wanted) {
		t.Fatalf("%+v", first)
	}
	before, err := os.Stat(first.File)
	if err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(first.File)
	if err != nil {
		t.Fatal(err)
	}
	again := fillIt(start.Add(time.Hour))
	asked, bare, wire := server.take()
	var want []tiles.ID
	for _, c := range d.draw(t, start).Covers {
		for id := range c.All() {
			if soonStale(id) {
				want = append(want, id)
			}
		}
	}
	slices.SortFunc(asked, tiles.Compare)
	if !slices.Equal(asked, want) || bare != 0 || again.Unchanged != int64(len(want)) || again.Changes.Changed+again.Changes.New != 0 {
		t.Errorf("%d asked, %d of them without condition, %d are stale: %+v", len(asked), bare, len(want), again)
	}
	if wire*100 >= full {
		t.Errorf("%d bytes over the wire, %d at first", wire, full)
	}
	after, err := os.Stat(first.File)
	if err != nil || again.Rewritten || !os.SameFile(before, after) || !after.ModTime().Equal(before.ModTime()) {
		t.Errorf("the pack was touched: %v %+v", err, again)
	}
	if now, err := os.ReadFile(first.File); err != nil || !bytes.Equal(now, content) {
		t.Errorf("the pack's bytes changed: %v", err)
	}
	t.Logf("%d tiles, %d stale: %d bytes over the wire after %d (%.2f %%)", first.Wanted, len(want), wire, full, 100*float64(wire)/float64(full))
}

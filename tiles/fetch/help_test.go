package fetch_test

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"iter"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
	"groundsheet/tiles/store"
	"groundsheet/tiles/store/folder"
)

// host is a tile source on loopback that remembers who asked for what.
type host struct {
	*httptest.Server
	mu       sync.Mutex
	asked    []string
	at       []time.Time
	agents   map[string]bool
	inFlight int
	busiest  int
	open     map[net.Conn]bool
	mostOpen int
}

// serve runs a handler and closes it with the test.
func serve(t testing.TB, handle http.HandlerFunc) *host {
	t.Helper()
	h := &host{open: map[net.Conn]bool{}, agents: map[string]bool{}}
	h.Server = httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h.arrive(r)
		defer h.leave()
		handle(w, r)
	}))
	h.Config.ConnState = h.connection
	h.Start()
	t.Cleanup(h.Close)
	return h
}

func (h *host) arrive(r *http.Request) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.asked, h.at = append(h.asked, r.URL.Path), append(h.at, time.Now())
	h.agents[r.UserAgent()] = true
	h.inFlight++
	h.busiest = max(h.busiest, h.inFlight)
}

func (h *host) leave() {
	h.mu.Lock()
	h.inFlight--
	h.mu.Unlock()
}

func (h *host) connection(c net.Conn, s http.ConnState) {
	h.mu.Lock()
	defer h.mu.Unlock()
	switch s {
	case http.StateNew:
		h.open[c] = true
		h.mostOpen = max(h.mostOpen, len(h.open))
	case http.StateClosed, http.StateHijacked:
		delete(h.open, c)
	}
}

func (h *host) requests() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.asked)
}

// fast is a source on the host with terms that do not hold a test up.
func (h *host) fast() source.Source {
	return source.Source{
		Name: "county", Kind: "xyz", URL: h.URL + "/{z}/{x}/{y}.png", Zooms: tiles.Zooms{Min: 0, Max: 22}, TileSize: 256,
		Terms: &source.Terms{Offline: "allowed", RequestsPerSecond: 5000, Connections: 4, KeepAtLeast: measure.Age(7 * 24 * time.Hour)},
	}
}

// picture is a plain image of a side in pixels; the seed changes its bytes.
func picture(side int, seed uint32, asJPEG bool) []byte {
	img := image.NewRGBA(image.Rect(0, 0, side, side))
	for y := range side {
		for x := range side {
			img.SetRGBA(x, y, color.RGBA{uint8(seed), uint8(seed >> 8), uint8(x ^ y), 255})
		}
	}
	var buf bytes.Buffer
	if asJPEG {
		jpeg.Encode(&buf, img, nil)
	} else {
		png.Encode(&buf, img)
	}
	return buf.Bytes()
}

// plain is the tile most hosts here send; drawing it anew each time is slow.
var plain = picture(256, 1, false)

// sends answers every request with one image.
func sends(data []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) { w.Write(data) }
}

// quick are options that do not hold a test up.
func quick() fetch.Options {
	return fetch.Options{Backoff: time.Millisecond, BatchEvery: 20 * time.Millisecond}
}

func shelf(t testing.TB) store.Shelf {
	t.Helper()
	st, err := folder.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { st.Close() })
	s, err := st.Shelf("county")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// heldWith is a want of a tile that is held with a tag; without one nothing is held.
func heldWith(id tiles.ID, etag string) fetch.Want {
	if etag == "" {
		return fetch.Want{ID: id}
	}
	return fetch.Want{ID: id, Held: store.Held{Tile: tiles.Tile{ID: id, Origin: tiles.Origin{Fetched: time.Unix(1e9, 0), ETag: etag}}}}
}

// row are n wants of zoom 20 in one row.
func row(n uint32) []fetch.Want {
	var out []fetch.Want
	for x := range n {
		out = append(out, fetch.Want{ID: tiles.ID{Z: 20, X: x}})
	}
	return out
}

// each yields wants without an error.
func each(wants []fetch.Want) iter.Seq2[fetch.Want, error] {
	return func(yield func(fetch.Want, error) bool) {
		for _, w := range wants {
			if !yield(w, nil) {
				return
			}
		}
	}
}

func run(src source.Source, s store.Shelf, wants []fetch.Want, o fetch.Options) (fetch.Tally, error) {
	return fetch.Run(context.Background(), src, s, each(wants), o)
}

// held are the records of the shelf in the row of wants.
func held(t testing.TB, s store.Shelf) (out []store.Held) {
	t.Helper()
	for r, err := range s.In(context.Background(), tiles.NewCover(20, []tiles.Span{{First: 0, Last: 1 << 19}}), true) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, r)
	}
	return out
}

// says checks that an error has the words.
func says(t *testing.T, err error, words ...string) {
	t.Helper()
	if err == nil {
		t.Fatal("no error")
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("message %q lacks %q", err, w)
		}
	}
}

// quietLog keeps refused handshakes off the screen.
func quietLog() *log.Logger { return log.New(io.Discard, "", 0) }

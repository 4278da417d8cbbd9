package practice

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles"
)

// get sends one request and reads the whole answer.
func get(t *testing.T, method, url string, header ...string) (*http.Response, []byte) {
	t.Helper()
	req, err := http.NewRequest(method, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(header); i += 2 {
		req.Header.Add(header[i], header[i+1])
	}
	res, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, body
}

func serve(t *testing.T, o Options) (*Server, string) {
	t.Helper()
	s := New(o)
	h := httptest.NewServer(s)
	t.Cleanup(h.Close)
	return s, h.URL
}

const someTile = "/18/54580/99230.jpg"

func TestATileIsSentWithAllItsHeaders(t *testing.T) {
	_, url := serve(t, Options{})
	res, body := get(t, "GET", url+someTile)
	if res.StatusCode != 200 {
		t.Fatalf("status %s: %s", res.Status, body)
	}
	m, err := jpeg.Decode(bytes.NewReader(body))
	if err != nil || m.Bounds().Dx() != 256 || m.Bounds().Dy() != 256 {
		t.Fatalf("the image: %v", err)
	}
	for name, want := range map[string]string{
		"Content-Type":   "image/jpeg",
		"Content-Length": fmt.Sprint(len(body)),
		"Cache-Control":  "public, max-age=604800",
		"Last-Modified":  "Mon, 05 Jan 2026 09:00:00 GMT",
	} {
		if got := res.Header.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	if tag := res.Header.Get("ETag"); len(tag) != 18 || tag[0] != '"' {
		t.Errorf("ETag %s is not a strong one", tag)
	}
	if date, err := http.ParseTime(res.Header.Get("Date")); err != nil || time.Since(date) > time.Minute {
		t.Errorf("Date %q: %v", res.Header.Get("Date"), err)
	}
	if _, again := get(t, "GET", url+someTile); !bytes.Equal(again, body) {
		t.Error("other bytes the second time")
	}
	head, none := get(t, "HEAD", url+someTile)
	if head.StatusCode != 200 || len(none) != 0 || head.Header.Get("Content-Length") != fmt.Sprint(len(body)) || head.Header.Get("ETag") != res.Header.Get("ETag") {
		t.Errorf("HEAD: %s, %d bytes, %v", head.Status, len(none), head.Header)
	}
	other, _ := get(t, "HEAD", url+"/18/54580/99231.jpg")
	if other.Header.Get("ETag") == res.Header.Get("ETag") {
		t.Error("two tiles share an ETag")
	}
}

func TestConditionalRequests(t *testing.T) {
	s, url := serve(t, Options{MaxAge: time.Hour})
	first, _ := get(t, "HEAD", url+someTile)
	tag := first.Header.Get("ETag")
	const before, same, after = "Sun, 04 Jan 2026 09:00:00 GMT", "Mon, 05 Jan 2026 09:00:00 GMT", "Tue, 06 Jan 2026 09:00:00 GMT"
	for _, c := range []struct {
		name   string
		header []string
		want   int
	}{
		{"same tag", []string{"If-None-Match", tag}, 304},
		{"same tag, weak", []string{"If-None-Match", "W/" + tag}, 304},
		{"in a list", []string{"If-None-Match", `"a", W/"b" , ` + tag}, 304},
		{"any", []string{"If-None-Match", "*"}, 304},
		{"other tag", []string{"If-None-Match", `"a"`}, 200},
		{"not modified since", []string{"If-Modified-Since", same}, 304},
		{"not modified since a later time", []string{"If-Modified-Since", after}, 304},
		{"modified since", []string{"If-Modified-Since", before}, 200},
		{"not a date", []string{"If-Modified-Since", "yesterday"}, 200},
		{"other tag wins over the date", []string{"If-None-Match", `"a"`, "If-Modified-Since", after}, 200},
		{"same tag wins over the date", []string{"If-None-Match", tag, "If-Modified-Since", before}, 304},
	} {
		for _, method := range []string{"GET", "HEAD"} {
			t.Run(method+" "+c.name, func(t *testing.T) {
				res, body := get(t, method, url+someTile, c.header...)
				if res.StatusCode != c.want {
					t.Fatalf("status %s, want %d", res.Status, c.want)
				}
				if sent := len(body) > 0; sent != (c.want == 200 && method == "GET") {
					t.Errorf("%d bytes of body", len(body))
				}
				if res.Header.Get("ETag") != tag || res.Header.Get("Cache-Control") != "public, max-age=3600" {
					t.Errorf("header %v", res.Header)
				}
			})
		}
	}
	if n := s.Counts().NotModified; n != 14 {
		t.Errorf("counted %d answers 304, want 14", n)
	}
}

// TestNothingIsDrawnForA304 uses a reader that would note being read.
func TestNothingIsDrawnForA304(t *testing.T) {
	id := tiles.ID{Z: 18, X: 54580, Y: 99230}
	for header, want := range map[string]bool{"": true, etag(id): false} {
		p := &picture{tile: id}
		w, r := httptest.NewRecorder(), httptest.NewRequest("GET", someTile, nil)
		w.Header().Set("ETag", etag(id))
		r.Header.Set("If-None-Match", header)
		http.ServeContent(w, r, "x.jpg", published(), p)
		if drawn := p.bytes != nil; drawn != want {
			t.Errorf("If-None-Match %q: drawn %v, want %v", header, drawn, want)
		}
	}
}

func TestWhatIsNotThere(t *testing.T) {
	around := tiles.ID{Z: 16, X: 13645, Y: 24807}.Bounds()
	_, url := serve(t, Options{Area: &around, Zooms: tiles.Zooms{Min: 14, Max: 18}})
	for _, c := range []struct {
		name, method, path string
		want               int
	}{
		{"the tile itself", "GET", "/16/13645/24807.jpg", 200},
		{"its ancestor", "GET", "/14/3411/6201.jpg", 200},
		{"its first grandchild", "GET", "/18/54580/99228.jpg", 200},
		{"its last grandchild", "GET", "/18/54583/99231.jpg", 200},
		{"neighbour to the east", "GET", "/16/13646/24807.jpg", 404},
		{"neighbour to the north", "GET", "/16/13645/24806.jpg", 404},
		{"just west of the first grandchild", "GET", "/18/54579/99228.jpg", 404},
		{"too shallow", "GET", "/13/1705/3100.jpg", 404},
		{"too deep", "GET", "/19/109160/198456.jpg", 404},
		{"column beyond the world", "GET", "/14/16384/6201.jpg", 404},
		{"zoom beyond all", "GET", "/99/1/1.jpg", 404},
		{"png", "GET", "/16/13645/24807.png", 404},
		{"jpeg", "GET", "/16/13645/24807.jpeg", 404},
		{"leading zero", "GET", "/16/013645/24807.jpg", 404},
		{"plus", "GET", "/16/+13645/24807.jpg", 404},
		{"negative", "GET", "/16/-1/24807.jpg", 404},
		{"no row", "GET", "/16/13645.jpg", 404},
		{"huge number", "GET", "/16/99999999999999999999/1.jpg", 404},
		{"other path", "GET", "/tiles.json", 404},
		{"post", "POST", "/16/13645/24807.jpg", 405},
		{"delete", "DELETE", "/", 405},
		{"start page", "GET", "/", 200},
	} {
		t.Run(c.name, func(t *testing.T) {
			res, body := get(t, c.method, url+c.path)
			if res.StatusCode != c.want {
				t.Fatalf("status %s, want %d", res.Status, c.want)
			}
			if c.want == 404 && (len(body) == 0 || len(body) > 200 || !strings.HasPrefix(res.Header.Get("Content-Type"), "text/plain")) {
				t.Errorf("said %q as %s", body, res.Header.Get("Content-Type"))
			}
			if c.want == 405 && res.Header.Get("Allow") != "GET, HEAD" {
				t.Errorf("Allow: %q", res.Header.Get("Allow"))
			}
			if c.path == "/" && c.want == 200 && string(body) != "Practice source of groundsheet: invented imagery, not a real place.\n" {
				t.Errorf("says %q", body)
			}
		})
	}
}

func TestBusyNowAndThen(t *testing.T) {
	for _, c := range []struct {
		name            string
		every, n, times int
	}{
		{"every third", 3, 10, 3}, {"always", 1, 4, 4}, {"never", -1, 200, 0}, {"every 97th when not said", 0, 200, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, url := serve(t, Options{BusyEvery: c.every})
			for i := 1; i <= c.n; i++ {
				get(t, "GET", url+"/") // not a tile: does not count
				res, _ := get(t, "GET", url+someTile, "If-None-Match", "*")
				every := c.every
				if every == 0 {
					every = 97
				}
				if busy := every > 0 && i%every == 0; busy != (res.StatusCode == 503) {
					t.Fatalf("request %d: %s", i, res.Status)
				} else if busy && res.Header.Get("Retry-After") != "1" {
					t.Fatalf("Retry-After: %q", res.Header.Get("Retry-After"))
				}
			}
			want := Counts{Requests: int64(2 * c.n), NotModified: int64(c.n - c.times), Busy: int64(c.times)}
			if got := s.Counts(); got != want {
				t.Errorf("counted %+v, want %+v", got, want)
			}
		})
	}
}

func TestManyAtOnce(t *testing.T) {
	var logged atomic.Int64
	s, url := serve(t, Options{BusyEvery: -1, Log: func(_, path string, status int) {
		if strings.HasSuffix(path, ".jpg") && (status == 200) == strings.HasPrefix(path, "/20/") {
			logged.Add(1)
		}
	}})
	var wait sync.WaitGroup
	for worker := range 8 {
		wait.Go(func() {
			for i := range 6 {
				get(t, "GET", fmt.Sprintf("%s/20/%d/%d.jpg", url, 218320+i%3, 396922+worker%2))
				get(t, "GET", url+"/23/0/0.jpg")
			}
		})
	}
	wait.Wait()
	if got, want := s.Counts(), (Counts{Requests: 96, Sent: 48, Absent: 48}); got != want {
		t.Errorf("counted %+v, want %+v", got, want)
	}
	// The last answers may be logged just after they arrive.
	for deadline := time.Now().Add(5 * time.Second); logged.Load() < 96 && time.Now().Before(deadline); {
		time.Sleep(time.Millisecond)
	}
	if logged.Load() != 96 {
		t.Errorf("%d lines logged, want 96", logged.Load())
	}
}

func FuzzPath(f *testing.F) {
	for _, p := range []string{someTile, "/", "/0/0/0.jpg", "/18/054580/99230.jpg", "1/0/0.jpg", "//1/0/0.jpg", "/24/16777215/16777215.jpg"} {
		f.Add(p)
	}
	f.Fuzz(func(t *testing.T, path string) {
		id, ok := parse(path)
		if ok && (!id.Valid() || "/"+id.String()+".jpg" != path) {
			t.Errorf("%q read as %v", path, id)
		}
	})
}

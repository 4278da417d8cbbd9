package serve

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/pack"
	"groundsheet/pack/fieldbook"
	"groundsheet/serve/auth"
)

const markCode = "987654321098"

// bookServer serves a pack to phones that may look and phones that may mark.
func bookServer(t testing.TB, path string) (*Server, *httptest.Server) {
	t.Helper()
	files := maps.Clone(page)
	for _, name := range []string{"join.html", "join.js", "join.css", "guard.js", "icon.svg", "apple-touch-icon.png"} {
		files[name] = &fstest.MapFile{Data: []byte("join")}
	}
	s, err := Open(t.Context(), []string{path}, Options{Page: files, Poll: -1})
	if err != nil {
		t.Fatal(err)
	}
	gate, _, err := auth.New(s, auth.Options{ViewerCode: testCode, RecorderCode: markCode, Page: files})
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(gate)
	t.Cleanup(func() { h.Close(); _ = s.Close() })
	return s, h
}

// ask sends a request with a code.
func ask(t testing.TB, code, method, url, media string, body []byte) (int, http.Header, []byte) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.SetBasicAuth("gis", code)
	if media != "" {
		r.Header.Set("Content-Type", media)
	}
	resp, err := http.DefaultTransport.RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	got, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, resp.Header, got
}

// markText is the text of the first entry of a mark.
func markText(name, note string) string {
	id := fmt.Sprintf("%x", sha256.Sum256([]byte(name)))[:32]
	note = strings.ReplaceAll(note, `"`, `\"`)
	return `{"layout":1,"id":"` + id + `","mark":"` + id + `","after":[],"action":"write","who":"Ada","phone":"` + id + `","clock":"2031-05-06T12:00:00.000Z",
		"clock_ahead_s":0,"feature":{"type":"Feature","geometry":{"type":"Point","coordinates":[-105.0005,40.0005]},
		"properties":{"kind":"reading","utility":"water","depth_m":1,"quality_level":"B","note":"` + note + `"}}}`
}

func sent(t testing.TB, texts ...string) []byte {
	t.Helper()
	body, err := json.Marshal(map[string]any{"entries": texts})
	if err != nil {
		t.Fatal(err)
	}
	return body
}

func TestFieldBook(t *testing.T) {
	path := makePack(t, "Site one")
	_, h := bookServer(t, path)
	at := h.URL + "/packs/site-one/book"
	var state struct {
		Role   string
		Latest int64
		Room   *int64
	}
	_, _, body := ask(t, testCode, "GET", at, "", nil)
	if err := json.Unmarshal(body, &state); err != nil || state.Role != "look" || state.Latest != 0 || state.Room == nil {
		t.Errorf("%s, %v", body, err)
	}
	if _, err := os.Stat(fieldbook.Path(path)); err == nil {
		t.Error("looking made a book")
	}
	hostile := `<script>alert('1')</script>\u0000 '); DROP TABLE entry; --`
	entries := sent(t, markText("one", hostile), `{"id":"`+strings.Repeat("a", 32)+`"}`)
	if status, _, body := ask(t, testCode, "POST", at+"/entries", "application/json", entries); status != 403 || !strings.Contains(string(body), "may look and not mark") {
		t.Errorf("role look marks: %d %s", status, body)
	}
	var answer struct {
		Receipts []fieldbook.Receipt
		Latest   int64
	}
	for range 2 { // the same again changes nothing
		status, _, body := ask(t, markCode, "POST", at+"/entries", "application/json", entries)
		if err := json.Unmarshal(body, &answer); status != 200 || err != nil || answer.Latest != 1 || len(answer.Receipts) != 2 ||
			answer.Receipts[0].Number != 1 || answer.Receipts[0].Hash == "" || answer.Receipts[1].Refused == "" {
			t.Fatalf("%d %s %v", status, body, err)
		}
	}
	var given struct {
		Entries []struct {
			Number     int64
			Role, Text string
			Received   time.Time
		}
		Latest int64
	}
	_, head, body := ask(t, testCode, "GET", at+"/entries?after=0", "", nil)
	if err := json.Unmarshal(body, &given); err != nil || len(given.Entries) != 1 || given.Entries[0].Text != markText("one", hostile) ||
		given.Entries[0].Role != "mark" || head.Get("Cache-Control") != "no-store" {
		t.Errorf("%s, %v", body, err)
	}
	if bytes.Contains(body, []byte("<script>")) {
		t.Error("a mark's text stands in an answer as it could run")
	}
	for media, body := range map[string][]byte{"text/plain": entries, "": entries} {
		if status, _, _ := ask(t, markCode, "POST", at+"/entries", media, body); status != 415 {
			t.Errorf("%q: %d", media, status)
		}
	}
	if status, _, _ := ask(t, markCode, "POST", at+"/entries", "application/json", sent(t, markText("long", strings.Repeat("x", 10<<20)))); status != 413 {
		t.Errorf("a note of ten megabytes: %d", status)
	}
	for _, body := range []string{"", "{", `{"entries":[1]}`, `{"entries":"x"}`} {
		if status, _, _ := ask(t, markCode, "POST", at+"/entries", "application/json", []byte(body)); status != 400 {
			t.Errorf("%q: %d", body, status)
		}
	}
	b, err := fieldbook.Read(fieldbook.Path(path))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if v, err := b.Verify(t.Context()); err != nil || !v.Whole() || v.Entries != 1 {
		t.Errorf("%+v, %v", v, err)
	}
}

// What had come home when the pack was made is told of that book alone, as far as it is the same.
func TestFieldBookAtHome(t *testing.T) {
	path := makePack(t, "Site one")
	s, h := bookServer(t, path)
	for _, note := range []string{"first", "second", "third"} {
		ask(t, markCode, "POST", h.URL+"/packs/site-one/book/entries", "application/json", sent(t, markText(note, note)))
	}
	h.Close()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := fieldbook.Read(fieldbook.Path(path))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	entries, err := b.Entries(t.Context(), 0, 10)
	if err != nil || len(entries) != 3 {
		t.Fatal(entries, err)
	}
	name, other := b.About().Book, strings.Repeat("0", 32)
	for what, c := range map[string]struct {
		home []pack.BookHome
		want string
	}{
		"none":                              {nil, `"home":0`},
		"two of three, beside another book": {[]pack.BookHome{{Book: other, Entries: 3, Hash: entries[2].Hash}, {Book: name, Entries: 2, Hash: entries[1].Hash}}, `"home":2`},
		"a book that parted":                {[]pack.BookHome{{Book: name, Entries: 2, Hash: entries[2].Hash}}, `"home":0`},
		"a longer one":                      {[]pack.BookHome{{Book: name, Entries: 4, Hash: entries[2].Hash}}, `"home":0`},
		"nonsense":                          {[]pack.BookHome{{Book: name, Entries: -1, Hash: entries[2].Hash}}, `"home":0`},
	} {
		later := makePackHome(t, "Site one", nil, c.home...)
		if err := os.Rename(later, path); err != nil {
			t.Fatal(err)
		}
		s, h := bookServer(t, path)
		if _, _, body := ask(t, testCode, "GET", h.URL+"/packs/site-one/book/entries?after=3", "", nil); !strings.Contains(string(body), c.want) {
			t.Errorf("%s: %s, want %s", what, body, c.want)
		}
		h.Close()
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

func TestFieldBookPhoto(t *testing.T) {
	_, h := bookServer(t, makePack(t, "Site one"))
	data := quarters(t)
	name := fmt.Sprintf("%x", sha256.Sum256(data))
	at := h.URL + "/packs/site-one/book/photos/" + name
	half := len(data) / 2
	put := func(code string, from, to int) (int, string) {
		status, _, body := ask(t, code, "PUT", fmt.Sprintf("%s?at=%d&of=%d&type=image/png", at, from, len(data)), "application/octet-stream", data[from:to])
		return status, string(body)
	}
	if status, _ := put(testCode, 0, half); status != 403 {
		t.Errorf("role look sends a photo: %d", status)
	}
	for _, c := range []struct {
		from, to int
		want     string
	}{{half, len(data), `{"have":0,"done":false}`}, {0, half, fmt.Sprintf(`{"have":%d,"done":false}`, half)}, {half, len(data), fmt.Sprintf(`{"have":%d,"done":true}`, len(data))}} {
		if c.want[9] != '0' {
			if status, _, _ := ask(t, testCode, "GET", at, "", nil); status != 404 {
				t.Errorf("half a photo: %d", status)
			}
		}
		if status, body := put(markCode, c.from, c.to); status != 200 || body != c.want {
			t.Errorf("%d %s, want %s", status, body, c.want)
		}
	}
	status, head, body := ask(t, testCode, "GET", at, "", nil)
	if status != 200 || !bytes.Equal(body, data) || head.Get("Content-Type") != "image/png" || head.Get("X-Content-Type-Options") != "nosniff" ||
		!strings.Contains(head.Get("Content-Security-Policy"), "sandbox") {
		t.Errorf("%d %v", status, head)
	}
	svg := []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`)
	bad := fmt.Sprintf("%s/packs/site-one/book/photos/%x?at=0&of=%d&type=", h.URL, sha256.Sum256(svg), len(svg))
	for _, media := range []string{"image/svg%2bxml", "image/png", "text/html"} {
		if status, _, body := ask(t, markCode, "PUT", bad+media, "", svg); status != 422 {
			t.Errorf("%s: %d %s", media, status, body)
		}
	}
}

// TestFieldBookEvent: every phone learns of a new entry, and of those of each pack.
func TestFieldBookEvent(t *testing.T) {
	s, h := bookServer(t, makePack(t, "Site one"))
	s.announceBook("other", 7)
	ask(t, markCode, "POST", h.URL+"/packs/site-one/book/entries", "application/json", sent(t, markText("one", "")))
	plain := httptest.NewServer(s)
	t.Cleanup(func() { s.events.Close(); plain.Close() })
	for pack, latest := range map[string]float64{"other": 7, "site-one": 1} {
		l := hear(t, plain.URL)
		l.until(t, "the book of "+pack, func(e received) bool {
			return e.name == "book" && e.data["pack"] == pack && e.data["latest"] == latest
		})
	}
}

// TestFieldBookGoesOn: the book outlives the version of the pack that it was begun with, and
// knows each that it was used with.
func TestFieldBookGoesOn(t *testing.T) {
	path := makePack(t, "Site one")
	s, h := bookServer(t, path)
	at := h.URL + "/packs/site-one/book"
	ask(t, markCode, "POST", at+"/entries", "application/json", sent(t, markText("one", "")))
	first := s.Packs()[0].Version
	if err := os.Rename(makePack(t, "Site one, packed again"), path); err != nil {
		t.Fatal(err)
	}
	for s.Packs()[0].Version == first {
		s.Scan(t.Context())
	}
	status, _, body := ask(t, markCode, "POST", at+"/entries", "application/json", sent(t, markText("one", ""), markText("two", "")))
	if status != 200 || !strings.Contains(string(body), `"latest":2`) {
		t.Errorf("%d %s", status, body)
	}
	b, err := fieldbook.Read(fieldbook.Path(path))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if about := b.About(); about.Name != "Site one" || len(about.Later) != 1 || about.Later[0] == about.Seal {
		t.Errorf("%+v", about)
	}
	if v, err := b.Verify(t.Context()); err != nil || !v.Whole() {
		t.Errorf("%+v, %v", v, err)
	}
}

// openBooks serves a pack to phones that all may mark; at is the address of its book.
func openBooks(t testing.TB, path string, o Options) (s *Server, at string) {
	t.Helper()
	o.Page, o.Poll = page, -1
	s, err := Open(t.Context(), []string{path}, o)
	if err != nil {
		t.Fatal(err)
	}
	gate, _, err := auth.New(s, auth.Options{Open: true})
	if err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(gate)
	t.Cleanup(func() { h.Close(); _ = s.Close() })
	return s, h.URL + "/packs/site-one/book"
}

// TestFieldBookElsewhere: a book in a folder of its own; and one that cannot be written,
// which the phones, the status and the terminal are told.
func TestFieldBookElsewhere(t *testing.T) {
	path, folder := makePack(t, "Site one"), t.TempDir()
	first, at := openBooks(t, path, Options{Fieldbooks: folder})
	if status, _, body := ask(t, "", "POST", at+"/entries", "application/json", sent(t, markText("one", ""))); status != 200 {
		t.Fatalf("%d %s", status, body)
	}
	if state, ok := first.Book("site-one"); !ok || filepath.Dir(state.Path) != folder || state.Marks != 1 || state.Trouble != "" {
		t.Errorf("%+v", state)
	}
	for name, o := range map[string]Options{"another server": {Fieldbooks: folder}, "no folder": {Fieldbooks: filepath.Join(folder, "none")}} {
		s, at := openBooks(t, path, o)
		status, _, body := ask(t, "", "POST", at+"/entries", "application/json", sent(t, markText("two", "")))
		if status != 503 || !strings.Contains(string(body), "what is on this phone stays on it") || strings.Contains(string(body), folder) {
			t.Errorf("%s: %d %s", name, status, body)
		}
		if state, _ := s.Book("site-one"); state.Trouble == "" {
			t.Errorf("%s: %+v", name, state)
		}
		resp := httptest.NewRecorder()
		s.ServeHTTP(resp, httptest.NewRequestWithContext(t.Context(), "GET", "/status", nil))
		if !strings.Contains(resp.Body.String(), "Marks stay on the phones") {
			t.Errorf("%s: the status does not tell: %s", name, resp.Body)
		}
		status, _, body = ask(t, "", "GET", at+"/entries", "", nil)
		if readable := name == "another server"; readable != (status == 200 && strings.Contains(string(body), `"latest":1`)) {
			t.Errorf("%s: %d %s", name, status, body)
		}
	}
}

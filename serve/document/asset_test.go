package document

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/iotest"

	"groundsheet/pack"
)

// longText does not repeat itself, so that places in it can be told apart.
func longText() []byte {
	var b bytes.Buffer
	for n := range 200_000 {
		fmt.Fprintf(&b, "reading %d, ", n)
	}
	return b.Bytes()
}

// TestDecompressor: a compressed document reads like the plain one, from every place.
func TestDecompressor(t *testing.T) {
	whole := longText()
	if err := iotest.TestReader(&decompressor{zipped: compress(whole, gzip.BestSpeed), length: int64(len(whole))}, whole); err != nil {
		t.Error(err)
	}
}

// TestLargeAsset: a large document is read once, kept compressed alone, and sent to all who ask,
// compressed, plain or in part, without a copy of the whole for each.
func TestLargeAsset(t *testing.T) {
	whole, reads := longText(), 0
	set := New(Address{}, &pack.Pack{}, nil)
	set.AddLarge("x", func() ([]byte, error) {
		reads++
		return bytes.Clone(whole), nil
	})
	ask := func(header ...string) *httptest.ResponseRecorder {
		a, err := set.documents["x"]()
		if err != nil {
			t.Fatal(err)
		}
		if a.plain != nil || len(a.zipped) > len(whole)/3 {
			t.Fatalf("%d bytes plain and %d compressed are kept of %d", len(a.plain), len(a.zipped), len(whole))
		}
		r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
		for i := 0; i < len(header); i += 2 {
			r.Header.Set(header[i], header[i+1])
		}
		w := httptest.NewRecorder()
		a.ServeHTTP(w, r)
		return w
	}
	plain := ask()
	if plain.Code != 200 || !bytes.Equal(plain.Body.Bytes(), whole) || plain.Header().Get("Content-Length") != fmt.Sprint(len(whole)) {
		t.Errorf("plain: %d, %d bytes", plain.Code, plain.Body.Len())
	}
	if w := ask("Range", "bytes=1000000-1000009"); w.Code != 206 || w.Body.String() != string(whole[1000000:1000010]) {
		t.Errorf("a part: %d %q", w.Code, w.Body)
	}
	if w := ask("If-None-Match", plain.Header().Get("ETag")); w.Code != 304 {
		t.Errorf("what the phone has: %d", w.Code)
	}
	if w := ask("Accept-Encoding", "gzip"); w.Header().Get("Content-Encoding") != "gzip" || w.Header().Get("ETag") == plain.Header().Get("ETag") || !bytes.Equal(unzipped(t, w.Body.Bytes()), whole) {
		t.Errorf("compressed: %v", w.Header())
	}
	if reads != 1 {
		t.Errorf("read %d times", reads)
	}
}

func unzipped(t *testing.T, zipped []byte) []byte {
	t.Helper()
	body, err := io.ReadAll(&decompressor{zipped: zipped, length: 1 << 40})
	if err != nil && !strings.Contains(err.Error(), "EOF") {
		t.Fatal(err)
	}
	return body
}

// slowPhone takes the first bytes and then waits.
type slowPhone struct {
	*httptest.ResponseRecorder
	took chan struct{}
	once sync.Once
	on   chan struct{}
}

func (s *slowPhone) Write(b []byte) (int, error) {
	s.once.Do(func() { close(s.took) })
	<-s.on
	return len(b), nil
}

// TestLargeAssetManyAtOnce: fifty phones in the middle of a large document take little memory.
func TestLargeAssetManyAtOnce(t *testing.T) {
	whole := longText()
	set := New(Address{}, &pack.Pack{}, nil)
	set.AddLarge("x", func() ([]byte, error) { return bytes.Clone(whole), nil })
	a, err := set.documents["x"]()
	if err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	var all sync.WaitGroup
	release := make(chan struct{})
	for range 50 {
		phone := &slowPhone{ResponseRecorder: httptest.NewRecorder(), took: make(chan struct{}), on: release}
		all.Go(func() { a.ServeHTTP(phone, httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)) })
		<-phone.took
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	close(release)
	all.Wait()
	if each := (int64(after.HeapAlloc) - int64(before.HeapAlloc)) / 50; each > 256<<10 {
		t.Errorf("%d bytes for each of fifty, the document has %d", each, len(whole))
	}
}

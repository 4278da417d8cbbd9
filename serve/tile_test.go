package serve

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"

	"groundsheet/serve/auth"
)

// FuzzTileAddress: the short way to a tile answers as the mux would, and never
// takes what is no tile.
func FuzzTileAddress(f *testing.F) {
	s, err := Open(f.Context(), []string{makePack(f, "Site one")}, Options{Page: page, Poll: -1, Memory: -1})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { _ = s.Close() })
	at := deepest17.String()
	for _, path := range []string{
		"/packs/site-one/tiles/" + at + ".png", "/packs/site-one/tiles/" + at, "/packs/site-one/tiles/" + deepest17.Children()[1].String() + ".jpg",
		"/packs/none/tiles/" + at, "/packs/site-one/tiles/1/0/0", "/packs/site-one/tiles/31/0/0", "/packs/site-one/tiles/2/1/1/", "/packs//tiles/1/1/1",
		"/packs/../packs/site-one/tiles/" + at, "/packs/site-one/tiles/+1/0/0", "/packs/site-one/tilesx/1/0/0", "", "/",
	} {
		f.Add(path, "v=1", true)
		f.Add(path, "", false)
	}
	f.Fuzz(func(t *testing.T, path, query string, head bool) {
		ask := func() *http.Request {
			r := httptest.NewRequestWithContext(t.Context(), http.MethodGet, "/", nil)
			if head {
				r.Method = http.MethodHead
			}
			r.URL = &url.URL{Path: path, RawQuery: query}
			return r
		}
		short, long := httptest.NewRecorder(), httptest.NewRecorder()
		if !s.serveTile(short, ask()) {
			if short.Body.Len() > 0 || len(short.Header()) > 0 {
				t.Errorf("%q: it answered all the same", path)
			}
			return
		}
		auth.SetHeaders(long.Header())
		s.mux.ServeHTTP(long, ask())
		if short.Code != long.Code || !bytes.Equal(short.Body.Bytes(), long.Body.Bytes()) {
			t.Errorf("%q?%s: %d with %d bytes, by the mux %d with %d", path, query, short.Code, short.Body.Len(), long.Code, long.Body.Len())
		}
		for _, ofPages := range []string{"Content-Security-Policy", "Referrer-Policy", "Permissions-Policy"} {
			long.Header().Del(ofPages)
		}
		for key := range long.Header() {
			if short.Header().Get(key) != long.Header().Get(key) {
				t.Errorf("%q: %s is %q, by the mux %q", path, key, short.Header().Get(key), long.Header().Get(key))
			}
		}
	})
}

package auth

import (
	"net/http"
	"net/http/httptest"
	"testing"
)

// BenchmarkHandler is what the handler costs a request beside a server that does nothing.
func BenchmarkHandler(b *testing.B) {
	nothing := http.HandlerFunc(func(http.ResponseWriter, *http.Request) {})
	closed, _, err := New(nothing, Options{ViewerCode: viewerCode, RecorderCode: recorderCode, Page: joinFS})
	if err != nil {
		b.Fatal(err)
	}
	opened, _, err := New(nothing, Options{Open: true})
	if err != nil {
		b.Fatal(err)
	}
	token := closed.sessions.issue(Viewer)
	request := func() *http.Request {
		return httptest.NewRequestWithContext(b.Context(), "GET", "http://127.0.0.1:8460/packs/x/tiles/16/1/1.png", nil)
	}
	cookie, basic := request(), request()
	cookie.AddCookie(&http.Cookie{Name: plainCookie, Value: token})
	basic.SetBasicAuth("gis", viewerCode)
	for name, c := range map[string]struct {
		h http.Handler
		r *http.Request
	}{"nothing": {nothing, request()}, "open": {opened, request()}, "session": {closed, cookie}, "basic": {closed, basic}} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			w := httptest.NewRecorder()
			for b.Loop() {
				c.h.ServeHTTP(w, c.r)
			}
			if w.Code != 200 {
				b.Fatal(w.Code)
			}
		})
	}
}

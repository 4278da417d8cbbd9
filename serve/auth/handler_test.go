package auth

import (
	"net/http"
	"strings"
	"testing"
	"testing/fstest"
)

var joinFS = fstest.MapFS{
	"join.html": {Data: []byte(`<!doctype html><title>Join this map</title><input inputmode="numeric">`)},
	"join.js":   {Data: []byte("1;")}, "join.css": {Data: []byte("a{}")}, "icon.svg": {Data: []byte("<svg/>")},
	"guard.js": {Data: []byte("1;")}, "apple-touch-icon.png": {Data: []byte("png")},
}

const viewerCode, recorderCode = "012345678901", "987654321098"

// TestNewRefuses: codes that will not do, and a program without its join page.
func TestNewRefuses(t *testing.T) {
	for name, o := range map[string]Options{
		"short":    {ViewerCode: "1234", Page: joinFS},
		"the same": {ViewerCode: "larkwater1907", RecorderCode: "Lark water 1907", Page: joinFS},
		"no page":  {},
	} {
		if _, _, err := New(http.NotFoundHandler(), o); err == nil {
			t.Errorf("%s: taken", name)
		} else if strings.Contains(err.Error(), "1234") {
			t.Errorf("%s: the code stands in the error: %v", name, err)
		}
	}
	g, _, err := New(http.NotFoundHandler(), Options{ViewerCode: "larkwater1907", Page: joinFS})
	if err != nil || !strings.Contains(string(g.files["/join"].Body), `inputmode="text"`) || g.Code(Viewer) != "larkwater1907" || len(g.Code(Recorder)) != codeDigits {
		t.Errorf("%v: a phone cannot type letters", err)
	}
}

// FuzzHost: only the names of this server pass.
func FuzzHost(f *testing.F) {
	h := newHosts([]string{"crew-7.local"})
	for _, s := range []string{"crew-7.local", "[::1]:80", "127.0.0.1", "::ffff:127.0.0.1", "evil.example", "[fe80::1%25eth0]:1", ":", "[", "]:"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, host string) {
		r, err := http.NewRequestWithContext(t.Context(), "GET", "/", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = host
		if !h.own(r) {
			return
		}
		name := strings.ToLower(strings.TrimSuffix(hostOnly(host), "."))
		if !h[name] && !strings.HasPrefix(name, "127.") && !strings.HasSuffix(name, "1") && !strings.Contains(name, "7f") && !strings.Contains(name, "%") {
			t.Errorf("%q passes", host)
		}
	})
}

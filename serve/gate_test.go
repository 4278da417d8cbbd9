package serve

import (
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"maps"
	"net"
	"net/http"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/serve/listen"
)

// filled is an address of a route, with the first pack's name where a pack is wanted
// and a tile that it has.
func filled(pattern string) string {
	_, path, ok := strings.Cut(pattern, " ")
	if !ok {
		path = pattern
	}
	for name, value := range map[string]string{
		"{pack}": "site-one", "{z}": fmt.Sprint(deepest17.Z), "{x}": fmt.Sprint(deepest17.X), "{y}": fmt.Sprint(deepest17.Y),
		"{file}": fmt.Sprintf("%d.png", deepest17.Y), "{doc...}": "about.json", "{$}": "",
	} {
		path = strings.ReplaceAll(path, name, value)
	}
	for strings.Contains(path, "{") {
		from, to := strings.Index(path, "{"), strings.Index(path, "}")
		path = path[:from] + "1" + path[to+1:]
	}
	return path
}

const testCode = "012345678901"

// closed starts a server that asks for the code on loopback too.
func closed(t *testing.T) (base string, patterns []string) {
	t.Helper()
	return closedOver(t, makePack(t, "Site one"))
}

func closedOver(t *testing.T, path string) (base string, patterns []string) {
	t.Helper()
	files := maps.Clone(page)
	for _, name := range []string{"join.html", "join.js", "join.css", "guard.js", "icon.svg", "apple-touch-icon.png"} {
		files[name] = &fstest.MapFile{Data: []byte("join")}
	}
	s, err := Open(t.Context(), []string{path}, Options{Page: files, Listen: listen.Options{Ask: true, Auth: auth.Options{ViewerCode: testCode}}})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ready, done := make(chan string, 1), make(chan error, 1)
	go func() {
		done <- s.Listen(ctx, "127.0.0.1:0", func(o listen.Access) { ready <- "http://" + o.Addr.String() })
	}()
	t.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	select {
	case base := <-ready:
		return base, s.patterns
	case err := <-done:
		done <- nil
		t.Fatal(err)
	}
	return "", nil
}

// TestStatusTellsGuessing: how much guessing goes on and from where stands in the status,
// for people and for programs; an old code said again and again is none.
func TestStatusTellsGuessing(t *testing.T) {
	base, _ := closed(t)
	status := func() (page string, guessing *auth.Guessing) {
		_, body := get(t, base+"/status.json", withCode...)
		var r struct{ Guessing *auth.Guessing }
		if err := json.Unmarshal(body, &r); err != nil {
			t.Fatal(err)
		}
		_, text := get(t, base+"/status", withCode...)
		return string(text), r.Guessing
	}
	say := func(code string) {
		try(t, "GET", base+"/packs.json", "Authorization", "Basic "+base64.StdEncoding.EncodeToString([]byte("gis:"+code)))
	}
	for range 30 {
		say("111222333444")
	}
	if page, g := status(); g != nil || strings.Contains(page, "guessing") {
		t.Errorf("an old code: %+v", g)
	}
	if runtime.GOOS != "linux" {
		return // only there 127.0.0.0/8 is all of this machine
	}
	for n := range 25 {
		d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, 1, byte(n+1))}}
		by := http.Client{Transport: &http.Transport{DialContext: d.DialContext, DisableKeepAlives: true}}
		resp, err := by.Post(base+"/join", "application/json", strings.NewReader(fmt.Sprintf(`{"code":"2223334445%02d"}`, n))) //nolint:noctx // a test's own loopback
		if err != nil || resp.StatusCode != 403 {
			t.Fatalf("%v %v", resp, err)
		}
		_ = resp.Body.Close()
	}
	if page, g := status(); g == nil || g.Wrong != 26 || g.Addresses != 26 || !strings.Contains(page, "26 wrong codes from 26 addresses") {
		t.Errorf("%+v", g)
	}
}

// try sends a request and gives what came of it without reading an endless answer.
func try(t *testing.T, method, url string, header ...string) (status int, media string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, method, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := (&http.Transport{DisableKeepAlives: true}).RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	return resp.StatusCode, resp.Header.Get("Content-Type")
}

var withCode = []string{"Authorization", "Basic " + base64.StdEncoding.EncodeToString([]byte("gis:"+testCode))}

// TestEveryRouteWantsTheCode walks every route there is: without the code each answers
// 401, with it none does.
func TestEveryRouteWantsTheCode(t *testing.T) {
	base, patterns := closed(t)
	if len(patterns) < 20 {
		t.Fatalf("only %d routes are known", len(patterns))
	}
	for _, p := range patterns {
		path := filled(p)
		for _, method := range []string{"GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"} {
			if status, _ := try(t, method, base+path); status != 401 {
				t.Errorf("%s %s (%s): %d without the code", method, path, p, status)
			}
		}
		if status, _ := try(t, "GET", base+path, "Cookie", "groundsheet=AQAAAAB", "User-Agent", "Mozilla/5.0"); status != 401 {
			t.Errorf("%s: %d with a made-up session", path, status)
		}
		if status, _ := try(t, "GET", base+path, withCode...); status == 401 || status == 403 {
			t.Errorf("%s: %d with the code", path, status)
		}
	}
}

// TestEveryAddressWantsTheCode follows every address that the server's own documents
// name, beginning at the list of packs: each gives something with the code, and
// nothing without it.
func TestEveryAddressWantsTheCode(t *testing.T) {
	base, _ := closed(t)
	seen := map[string]bool{}
	next := []string{"/", "/app.js", "/packs.json"}
	for len(next) > 0 {
		path := next[0]
		next = next[1:]
		if seen[path] {
			continue
		}
		seen[path] = true
		if status, media := try(t, "GET", base+path); status != 401 || !strings.HasPrefix(media, "text/plain") {
			t.Errorf("%s: %d %s without the code", path, status, media)
		}
		resp, body := get(t, base+path, withCode...)
		if resp.StatusCode != 200 {
			t.Errorf("%s: %s with the code", path, resp.Status)
		}
		var v any
		if json.Unmarshal(body, &v) == nil {
			next = append(next, addressesIn(v, base)...)
		}
	}
	if len(seen) < 9 || !slices.ContainsFunc(slices.Collect(maps.Keys(seen)), func(p string) bool { return strings.Contains(p, "/tiles/17/") }) {
		t.Errorf("the walk found only %v", slices.Sorted(maps.Keys(seen)))
	}
}

// addressesIn are the texts of a document that lead to this server, templates of tiles
// filled in.
func addressesIn(v any, base string) (all []string) {
	switch v := v.(type) {
	case string:
		v = strings.TrimPrefix(v, base)
		if strings.HasPrefix(v, "/") {
			all = append(all, filled("GET "+strings.NewReplacer("{y}.png", "{file}").Replace(v)))
		}
	case []any:
		for _, e := range v {
			all = append(all, addressesIn(e, base)...)
		}
	case map[string]any:
		for _, e := range v {
			all = append(all, addressesIn(e, base)...)
		}
	}
	return all
}

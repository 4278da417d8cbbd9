package listen

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"groundsheet/serve/auth"
	"io"
	"net"
	"net/http"
	"strings"
	"sync/atomic"
	"testing"
	"testing/fstest"
	"time"
)

var joinFS = fstest.MapFS{
	"join.html": {Data: []byte(`<!doctype html><title>Join this map</title><input inputmode="numeric">`)},
	"join.js":   {Data: []byte("1;")}, "join.css": {Data: []byte("a{}")}, "icon.svg": {Data: []byte("<svg/>")},
	"guard.js": {Data: []byte("1;")}, "apple-touch-icon.png": {Data: []byte("png")},
}

// secret is what nobody may read without the code.
const secret = "what lies under the ground"

// testServer is a server that listens, and what it says of itself.
type testServer struct {
	Access
	url     string
	reached atomic.Int64 // requests that came through
	log     *bytes.Buffer
	stop    func() error
}

const viewerCode, recorderCode = "012345678901", "987654321098"

// open starts a server on loopback that asks for the code all the same. The server behind it
// answers every request with the secret and the role.
func open(t testing.TB, change func(*Options)) *testServer {
	t.Helper()
	s := &testServer{log: &bytes.Buffer{}}
	o := Options{Auth: auth.Options{ViewerCode: viewerCode, RecorderCode: recorderCode, Page: joinFS}, Ask: true}
	if change != nil {
		change(&o)
	}
	inner := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.reached.Add(1)
		if _, err := io.Copy(io.Discard, r.Body); err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		fmt.Fprintf(w, "%s %s", secret, auth.RoleOf(r))
	})
	s.listen(t, inner, o)
	return s
}

func (s *testServer) listen(t testing.TB, inner http.Handler, o Options) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready := make(chan Access, 1)
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, "127.0.0.1:0", inner, o, func(o Access) { ready <- o }) }()
	select {
	case s.Access = <-ready:
	case err := <-done:
		cancel()
		t.Fatal(err)
	}
	scheme := "http"
	if o.HTTPS {
		scheme = "https"
	}
	s.url = scheme + "://" + s.Addr.String()
	s.stop = func() error {
		cancel()
		select {
		case err := <-done:
			done <- err
			return err
		case <-time.After(20 * time.Second):
			return fmt.Errorf("it does not stop")
		}
	}
	t.Cleanup(func() {
		if err := s.stop(); err != nil {
			t.Error(err)
		}
	})
}

// answer is what came, redirects not followed.
type answer struct {
	*http.Response
	body string
}

// ask sends a request on a connection of its own; header names and values alternate,
// Host among them.
func ask(t testing.TB, method, url, body string, header ...string) answer {
	t.Helper()
	return askBy(t, &http.Transport{DisableKeepAlives: true}, method, url, body, header...)
}

func askBy(t testing.TB, by http.RoundTripper, method, url, body string, header ...string) answer {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(header); i += 2 {
		if header[i] == "Host" {
			r.Host = header[i+1]
		}
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := by.RoundTrip(r)
	if err != nil {
		t.Fatalf("%s %s: %v", method, url, err)
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatalf("%s %s: %v", method, url, err)
	}
	return answer{resp, string(b)}
}

func join(t testing.TB, s *testServer, code string, header ...string) answer {
	t.Helper()
	body, err := json.Marshal(map[string]string{"code": code})
	if err != nil {
		t.Fatal(err)
	}
	return ask(t, "POST", s.url+"/join", string(body), append([]string{"Content-Type", "application/json"}, header...)...)
}

// session joins and gives the Cookie header of a phone that is in.
func session(t testing.TB, s *testServer, code string) string {
	t.Helper()
	a := join(t, s, code)
	if a.StatusCode != 200 || len(a.Cookies()) != 1 {
		t.Fatalf("joining: %s %s", a.Status, a.body)
	}
	c := a.Cookies()[0]
	return c.Name + "=" + c.Value
}

// raw speaks to the server byte by byte.
func raw(t testing.TB, s *testServer) net.Conn {
	t.Helper()
	c, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", s.Addr.String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c
}

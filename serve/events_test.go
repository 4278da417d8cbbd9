package serve

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"groundsheet/serve/device"
	"groundsheet/serve/listen"
	"groundsheet/serve/position"
)

// patient is how long the slowest machine gets.
const patient = 20 * time.Second

// received is one event of a stream.
type received struct {
	name string
	data map[string]any
}

// listener reads a stream as a browser does.
type listener struct {
	*http.Response
	events chan received // closed at the end of the stream
}

func hear(t *testing.T, url string) *listener {
	t.Helper()
	return hearBy(t, &http.Transport{DisableKeepAlives: true}, url)
}

func hearBy(t *testing.T, way http.RoundTripper, url string) *listener {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url+"/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := way.RoundTrip(req)
	if err != nil {
		t.Fatal(err)
	}
	l := &listener{resp, make(chan received, 1000)}
	t.Cleanup(func() { _ = resp.Body.Close() })
	go func() {
		defer close(l.events)
		var e received
		for lines := bufio.NewScanner(resp.Body); lines.Scan(); {
			switch field, value, _ := strings.Cut(lines.Text(), ": "); field {
			case "event":
				e.name = value
			case "data":
				e.data = nil
				_ = json.Unmarshal([]byte(value), &e.data)
			case "":
				l.events <- e
			}
		}
	}()
	return l
}

// until waits for an event that is as wanted.
func (l *listener) until(t *testing.T, what string, wanted func(received) bool) received {
	t.Helper()
	for deadline := time.After(patient); ; {
		select {
		case e, open := <-l.events:
			if !open {
				t.Fatalf("the stream ended before %s", what)
			}
			if wanted(e) {
				return e
			}
		case <-deadline:
			t.Fatalf("no %s", what)
		}
	}
}

func named(name string) func(received) bool { return func(e received) bool { return e.name == name } }

// within waits for something that has no event.
func within(t *testing.T, what string, is func() bool) {
	t.Helper()
	for began := time.Now(); !is(); time.Sleep(10 * time.Millisecond) {
		if time.Since(began) > patient {
			t.Fatal("never: " + what)
		}
	}
}

func openServer(t *testing.T, o Options) *Server {
	t.Helper()
	o.Page = page
	s, err := Open(t.Context(), []string{makePack(t, "Site one")}, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// serveStreams starts a server that closes after the streams of the test.
func serveStreams(t *testing.T, s *Server) *httptest.Server {
	t.Helper()
	h := httptest.NewServer(s)
	t.Cleanup(h.Close)
	return h
}

func checked(body string) string {
	var sum byte
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

// A receiver on the network, seen through the stream: found, without a fix, cut.
func TestEventsOfPosition(t *testing.T) {
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	a, err := device.ParseAddress("receiver", "tcp:"+l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	feed := position.NewFeed(a, position.Options{Retry: 20 * time.Millisecond})
	ctx, stop := context.WithCancel(t.Context())
	ran := make(chan struct{})
	go func() { feed.Run(ctx); close(ran) }()
	defer func() { stop(); <-ran }()
	h := serveStreams(t, openServer(t, Options{Position: feed}))
	stream := hear(t, h.URL)
	if stream.StatusCode != 200 || stream.Header.Get("Content-Type") != "text/event-stream" || stream.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("%s %v", stream.Status, stream.Header)
	}
	receiver, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	fmt.Fprint(receiver, checked("GNGGA,101530.00,4043.58720,N,07359.73440,W,4,18,0.6,35.2,M,-34.2,M,,"), checked("GNGST,101530.00,,,,,0.014,0.011,0.021"))
	phase := func(p string) func(received) bool {
		return func(e received) bool { return e.name == "position" && e.data["phase"] == p }
	}
	e := stream.until(t, "fix", phase("fix"))
	fix := e.data["fix"].(map[string]any)
	if fix["kind"] != "rtk-fixed" || fix["live"] != true || fix["grounds"] != "gst" || fix["satellites"] != 18.0 || e.data["source"] != a.Label() {
		t.Errorf("%v", e.data)
	}
	if age := fix["age_ms"].(float64); age < 0 || age > float64(patient.Milliseconds()) {
		t.Errorf("age %v ms", age)
	}
	fmt.Fprint(receiver, checked("GPRMC,101531.00,V,,,,,,,251126,,,N"))
	stream.until(t, "no fix", phase("no-fix"))
	_ = l.Close() // so that nobody answers when it is tried again
	_ = receiver.Close()
	e = stream.until(t, "away", phase("away"))
	if e.data["trouble"] == "" || e.data["fix"] == nil {
		t.Errorf("%v", e.data)
	}
	// who comes later gets the present state, with an age that has grown
	later := hear(t, h.URL).until(t, "position", named("position"))
	if later.data["fix"].(map[string]any)["age_ms"].(float64) <= fix["age_ms"].(float64) {
		t.Errorf("the fix grew no older: %v", later.data)
	}
}

func TestEventsWithoutAReceiver(t *testing.T) {
	h := serveStreams(t, openServer(t, Options{}))
	stream := hear(t, h.URL)
	e := stream.until(t, "position", named("position"))
	if e.data["phase"] != "none" || e.data["fix"] != nil {
		t.Errorf("%v", e.data)
	}
	e = stream.until(t, "time", named("time"))
	if _, err := time.Parse(time.RFC3339Nano, e.data["now"].(string)); err != nil {
		t.Error(err)
	}
}

// A pack that is exchanged is told, so that a page can offer to load it.
func TestEventsOfPacks(t *testing.T) {
	path := makePack(t, "Site one")
	s, err := Open(t.Context(), []string{path}, Options{Page: page, Poll: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	stream := hear(t, serveStreams(t, s).URL)
	version := func(e received) any { return e.data["packs"].(map[string]any)["site-one"] }
	before := version(stream.until(t, "packs", named("packs")))
	if before != s.Packs()[0].Version {
		t.Errorf("version %v", before)
	}
	rename(t, makePack(t, "Site two"), path)
	s.Scan(t.Context())
	s.Scan(t.Context())
	stream.until(t, "the new pack", func(e received) bool { return e.name == "packs" && version(e) != before })
}

// Others' events reach open streams and new ones, the latest of each name.
func TestEventsAreTold(t *testing.T) {
	s := openServer(t, Options{})
	h := serveStreams(t, s)
	early := hear(t, h.URL)
	early.until(t, "time", named("time"))
	for n := range 100 {
		s.events.Announce("z-counts", func() any { return map[string]int{"n": n} })
		s.events.Announce("other", func() any { return map[string]int{"n": -n} })
	}
	last := func(name string, n float64) func(received) bool {
		return func(e received) bool { return e.name == name && e.data["n"] == n }
	}
	early.until(t, "other", last("other", -99))
	early.until(t, "counts", last("z-counts", 99))
	late := hear(t, h.URL)
	late.until(t, "other", func(e received) bool {
		if e.data["n"] != nil && e.data["n"] != -99.0 {
			t.Errorf("an old one: %v", e)
		}
		return last("other", -99)(e)
	})
	late.until(t, "counts", last("z-counts", 99))
}

// The server's times for reading a request and writing an answer end no stream,
// neither of HTTP/1.1 nor of HTTP/2.
func TestStreamsOutlastTheServersTimes(t *testing.T) {
	for _, protocol := range []string{"HTTP/1.1", "HTTP/2.0"} {
		t.Run(protocol, func(t *testing.T) {
			s := openServer(t, Options{})
			h := httptest.NewUnstartedServer(s)
			h.Config.ReadTimeout, h.Config.WriteTimeout = 200*time.Millisecond, 200*time.Millisecond
			if h.EnableHTTP2 = protocol == "HTTP/2.0"; h.EnableHTTP2 {
				h.StartTLS()
			} else {
				h.Start()
			}
			t.Cleanup(h.Close)
			stream := hearBy(t, h.Client().Transport, h.URL)
			if stream.Proto != protocol {
				t.Fatalf("it came by %s", stream.Proto)
			}
			stream.until(t, "time", named("time"))
			for n := range 4 {
				time.Sleep(300 * time.Millisecond)
				s.events.Announce("z-counts", func() any { return map[string]int{"n": n} })
				stream.until(t, "news", func(e received) bool { return e.name == "z-counts" && e.data["n"] == float64(n) })
			}
		})
	}
}

// Streams are counted, and a place comes free when a phone goes.
func TestTooManyStreams(t *testing.T) {
	s := openServer(t, Options{Streams: 2})
	h := serveStreams(t, s)
	before := runtime.NumGoroutine()
	first, second := hear(t, h.URL), hear(t, h.URL)
	first.until(t, "time", named("time"))
	second.until(t, "time", named("time"))
	third := hear(t, h.URL)
	if third.StatusCode != http.StatusServiceUnavailable || third.Header.Get("Retry-After") == "" {
		t.Errorf("a third one: %s", third.Status)
	}
	_ = first.Body.Close()
	within(t, "a place", func() bool { return s.events.Streams() == 1 })
	again := hear(t, h.URL)
	again.until(t, "time", named("time"))
	_ = again.Body.Close()
	_ = second.Body.Close()
	within(t, "all gone", func() bool { return s.events.Streams() == 0 && runtime.NumGoroutine() <= before })
}

// A server that stops does not wait for phones that listen.
func TestStreamsEndWithTheServer(t *testing.T) {
	s := openServer(t, Options{})
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	ready, done := make(chan net.Addr, 1), make(chan error, 1)
	go func() { done <- s.Listen(ctx, "127.0.0.1:0", func(o listen.Access) { ready <- o.Addr }) }()
	stream := hear(t, "http://"+(<-ready).String())
	stream.until(t, "time", named("time"))
	began := time.Now()
	cancel()
	select {
	case err := <-done:
		if took := time.Since(began); err != nil || took > 4*time.Second {
			t.Errorf("%v after %v: it waited for the stream", err, took)
		}
	case <-time.After(patient):
		t.Fatal("it does not stop")
	}
}

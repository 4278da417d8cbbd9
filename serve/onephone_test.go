package serve

import (
	"bufio"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"testing"
	"time"
)

// How many event streams one session and one address may have.
const (
	streamsOfSession = 4
	streamsOfAddress = 16
)

// joined gives the Cookie header of a phone that joined.
func joined(t *testing.T, base string) string {
	t.Helper()
	resp, err := http.Post(base+"/join", "application/json", strings.NewReader(`{"code":"`+testCode+`"}`)) //nolint:noctx // a test's own loopback
	if err != nil || len(resp.Cookies()) != 1 {
		t.Fatalf("%v %v", resp, err)
	}
	_ = resp.Body.Close()
	return "groundsheet=" + resp.Cookies()[0].Value
}

// asked sends a request on a connection of its own and gives the answer with its body unread.
func asked(t *testing.T, url string, header ...string) *http.Response {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := (&http.Transport{DisableKeepAlives: true, DisableCompression: true}).RoundTrip(r)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = resp.Body.Close() })
	return resp
}

// TestStreamsOfOnePhone: the newest stream of a phone takes the place of its oldest, which is told
// to stay away for a minute; another phone's goes on. So many streams are no running requests.
func TestStreamsOfOnePhone(t *testing.T) {
	base, _ := closed(t)
	phone, other := joined(t, base), joined(t, base)
	open := func(cookie string) *http.Response {
		t.Helper()
		resp := asked(t, base+"/events", "Cookie", cookie)
		if line, err := bufio.NewReaderSize(resp.Body, 16).ReadString('\n'); resp.StatusCode != 200 || err != nil {
			t.Fatalf("%s %q %v", resp.Status, line, err)
		}
		return resp
	}
	kept := open(other)
	var streams []*http.Response
	for range 3 * streamsOfSession {
		streams = append(streams, open(phone))
	}
	for i, s := range streams[:2*streamsOfSession] {
		body, err := io.ReadAll(s.Body)
		if err != nil || !strings.HasSuffix(string(body), "retry: 60000\n\n") {
			t.Errorf("stream %d: %.80q %v", i, body, err)
		}
	}
	for i, s := range append(streams[2*streamsOfSession:], kept) {
		lines := bufio.NewScanner(s.Body)
		for lines.Scan() && !strings.HasPrefix(lines.Text(), "event: time") {
		} // it goes on to the next sign of life
		if lines.Err() != nil {
			t.Errorf("stream %d: %v", i, lines.Err())
		}
	}
	if resp := asked(t, base+"/packs.json", "Cookie", phone); resp.StatusCode != 200 {
		t.Errorf("beside its streams: %s", resp.Status)
	}
}

// TestStreamsOfOneAddress: many sessions of one address do not take all places.
func TestStreamsOfOneAddress(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("only there 127.0.0.0/8 is all of this machine")
	}
	base, _ := closed(t)
	d := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.IPv4(127, 0, 1, 7)}}
	by := &http.Transport{DialContext: d.DialContext, DisableKeepAlives: true}
	for range 2 * streamsOfAddress {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, base+"/events", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Cookie", joined(t, base))
		resp, err := by.RoundTrip(r)
		if err != nil || resp.StatusCode != 200 {
			t.Fatalf("%v %v", resp, err)
		}
		t.Cleanup(func() { _ = resp.Body.Close() })
	}
	var r statusReport
	for end := time.Now().Add(patient); r.Clients.Streams != streamsOfAddress; {
		_, body := get(t, base+"/status.json", withCode...)
		if err := json.Unmarshal(body, &r); err != nil || time.Now().After(end) {
			t.Fatalf("%d streams of one address, %v", r.Clients.Streams, err)
		}
	}
}

// TestLargeDocumentsOfOnePhone: one phone is sent one large document at a time, and another one
// meanwhile too.
func TestLargeDocumentsOfOnePhone(t *testing.T) {
	base, _ := closedOver(t, makeLargePack(t, 60_000))
	phone, other := joined(t, base), joined(t, base)
	url := base + "/packs/a/overlays/2-gas.geojson"
	first := asked(t, url, "Cookie", phone)
	second := make(chan int)
	go func() { second <- asked(t, url, "Cookie", phone).StatusCode }()
	if resp := asked(t, url, "Cookie", other); resp.StatusCode != 200 {
		t.Errorf("another phone: %s", resp.Status)
	}
	if resp := asked(t, base+"/packs.json", "Cookie", phone); resp.StatusCode != 200 {
		t.Errorf("what is small: %s", resp.Status)
	}
	select {
	case status := <-second:
		t.Errorf("a second one at the same time: %d", status)
	case <-time.After(300 * time.Millisecond):
	}
	if n, err := io.Copy(io.Discard, first.Body); err != nil || n != first.ContentLength || n < 4<<20 {
		t.Errorf("%d bytes of %d, %v", n, first.ContentLength, err)
	}
	if status := <-second; status != 200 {
		t.Errorf("the second one after the first: %d", status)
	}
}

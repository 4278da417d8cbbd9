package fetch_test

import (
	"bytes"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"groundsheet/tiles/fault"
	"groundsheet/tiles/fetch"
)

// hijacked writes raw bytes and cuts the connection.
func hijacked(w http.ResponseWriter, text string) {
	conn, _, err := w.(http.Hijacker).Hijack()
	if err != nil {
		panic(err)
	}
	io.WriteString(conn, text)
	conn.Close()
}

var badAnswers = []struct {
	name, why string
	requests  int // with 3 attempts
	send      func(w http.ResponseWriter)
}{
	{"HTML with 200", "HTML page", 3, func(w http.ResponseWriter) {
		w.Header().Set("Content-Type", "text/html")
		io.WriteString(w, "<!DOCTYPE html><html>please sign in</html>")
	}},
	{"nothing with 200", "no bytes", 3, func(w http.ResponseWriter) {}},
	{"JPEG cut, length honest", "", 3, func(w http.ResponseWriter) { d := picture(256, 1, true); w.Write(d[:len(d)/2]) }},
	{"PNG cut, length honest", "", 3, func(w http.ResponseWriter) { d := plain; w.Write(d[:len(d)-5]) }},
	{"connection cut", "cut short", 3, func(w http.ResponseWriter) {
		d := picture(256, 1, true)
		hijacked(w, "HTTP/1.1 200 OK\r\nContent-Length: "+strconv.Itoa(len(d))+"\r\n\r\n"+string(d[:len(d)/2]))
	}},
	{"connection cut in a chunk", "cut short", 3, func(w http.ResponseWriter) {
		hijacked(w, "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n400\r\nabc")
	}},
	{"connection cut at once", "connection broke", 3, func(w http.ResponseWriter) { hijacked(w, "") }},
	{"no HTTP", "connection broke", 3, func(w http.ResponseWriter) { hijacked(w, "220 mail ready\r\n") }},
	{"wrong size", "256×256 expected, 512×512 came", 3, func(w http.ResponseWriter) { w.Write(picture(512, 1, false)) }},
	{"bit error in a PNG", "", 3, func(w http.ResponseWriter) {
		d := bytes.Clone(plain)
		d[len(d)/2] ^= 1
		w.Write(d)
	}},
	{"gzip", "gzip", 3, func(w http.ResponseWriter) { io.WriteString(w, "\x1f\x8b\x08abcdefghijklmnop") }},
	{"busy for ever", "500 Internal Server Error", 3, func(w http.ResponseWriter) { w.WriteHeader(500) }},
	{"bad gateway", "502", 3, func(w http.ResponseWriter) { w.WriteHeader(502) }},
	{"gateway slow", "504", 3, func(w http.ResponseWriter) { w.WriteHeader(504) }},
	{"odd status", "418", 1, func(w http.ResponseWriter) { w.WriteHeader(418) }},
	{"part of it", "206", 1, func(w http.ResponseWriter) { w.WriteHeader(206) }},
	{"304 for ever", "304", 3, func(w http.ResponseWriter) { w.WriteHeader(304) }},
}

// A bad answer is asked for again; when it stays bad the tile fails with its
// reason, and nothing is kept.
func TestBadAnswers(t *testing.T) {
	for _, c := range badAnswers {
		t.Run(c.name, func(t *testing.T) {
			h := serve(t, func(w http.ResponseWriter, r *http.Request) { c.send(w) })
			s := shelf(t)
			o := quick()
			o.Attempts = 3
			tally, err := run(h.fast(), s, row(1), o)
			var inc *fetch.Incomplete
			if !errors.Is(err, fetch.Failed) || !fault.IsOutside(err) || !errors.As(err, &inc) || inc.Failed != 1 || len(inc.Reasons) != 1 {
				t.Fatalf("%v (%T), want a Failed with an Incomplete", err, err)
			}
			says(t, err, "20/0/0", h.URL+"/20/0/0.png", c.why, "run again")
			if tally.Failed != 1 || tally.Requests != c.requests || tally.New != 0 || len(held(t, s)) != 0 {
				t.Errorf("%+v, want %d requests and nothing kept", tally, c.requests)
			}
		})
	}
}

func TestBadAnswerThenGoodOne(t *testing.T) {
	for _, c := range badAnswers {
		if c.requests == 1 {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			var n atomic.Int32
			h := serve(t, func(w http.ResponseWriter, r *http.Request) {
				if n.Add(1) <= 2 {
					c.send(w)
					return
				}
				w.Write(picture(256, 1, true))
			})
			s := shelf(t)
			tally, err := run(h.fast(), s, row(1), quick())
			if err != nil || tally.New != 1 || tally.Retries != 2 || tally.Failed != 0 || len(held(t, s)) != 1 {
				t.Errorf("%+v, %v", tally, err)
			}
		})
	}
}

// 40 MB are refused without reading them: the server sees its writes fail.
func TestHugeAnswerIsNotRead(t *testing.T) {
	for _, lengthSaid := range []bool{true, false} {
		var sent atomic.Int64
		h := serve(t, func(w http.ResponseWriter, r *http.Request) {
			if lengthSaid {
				w.Header().Set("Content-Length", strconv.Itoa(40<<20))
			}
			for block := make([]byte, 64<<10); sent.Load() < 40<<20; {
				n, err := w.Write(block)
				sent.Add(int64(n))
				if err != nil {
					return
				}
			}
		})
		o := quick()
		o.Attempts, o.MaxBytes = 1, 1<<20
		_, err := run(h.fast(), shelf(t), row(1), o)
		says(t, err, "longer than 1048576 bytes")
		h.Close() // waits for the handler
		if sent.Load() > 20<<20 {
			t.Errorf("length said %v: %d bytes were taken", lengthSaid, sent.Load())
		}
	}
}

// A length over the limit is believed: nothing of the answer is waited for.
func TestHugeLengthIsNotWaitedFor(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Length", strconv.Itoa(40<<20))
		w.(http.Flusher).Flush()
		<-r.Context().Done()
	})
	o := quick()
	o.Attempts, o.Timeout = 1, 10*time.Second
	_, err := run(h.fast(), shelf(t), row(1), o)
	says(t, err, "longer than 8388608 bytes")
}

func TestSilentHost(t *testing.T) {
	release := make(chan struct{})
	h := serve(t, func(http.ResponseWriter, *http.Request) { <-release })
	defer close(release)
	o := quick()
	o.Timeout, o.Attempts = 50*time.Millisecond, 2
	_, err := run(h.fast(), shelf(t), row(1), o)
	says(t, err, "no whole answer within 1 s", "(2 times)")
}

func TestServerDown(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	l.Close()
	h := &host{Server: &httptest.Server{URL: "http://" + address}}
	tally, err := run(h.fast(), shelf(t), row(1000), quick())
	stoppedFor(t, err, fetch.StopUnreachable, "cannot be reached", "refused", address)
	if tally.Requests > 40 {
		t.Errorf("%d requests to a closed port", tally.Requests)
	}
}

func TestServerGoesDownInMidRun(t *testing.T) {
	var h *host
	var n atomic.Int32
	h = serve(t, func(w http.ResponseWriter, r *http.Request) {
		if n.Add(1) == 50 {
			h.Listener.Close()
			go h.CloseClientConnections()
		}
		w.Write(plain)
	})
	s := shelf(t)
	tally, err := run(h.fast(), s, row(5000), quick())
	stoppedFor(t, err, fetch.StopUnreachable)
	if tally.New < 40 || tally.New != len(held(t, s)) {
		t.Errorf("%+v, %d held", tally, len(held(t, s)))
	}
}

func TestTenFailuresInARowEndTheRun(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) { io.WriteString(w, "<html>closed</html>") })
	o := quick()
	o.Attempts = 2
	src := h.fast()
	src.Terms.Connections = 1
	tally, err := run(src, shelf(t), row(1000), o)
	stoppedFor(t, err, fetch.StopRow, "10 tiles in a row", "HTML page")
	if tally.Failed != 10 || tally.Requests != 20 {
		t.Errorf("%+v, want 10 failed, 20 requests", tally)
	}
}

// Failures between good answers do not end the run; the message has few of them.
func TestScatteredFailures(t *testing.T) {
	h := serve(t, func(w http.ResponseWriter, r *http.Request) {
		if x, _ := strconv.Atoi(strings.Split(r.URL.Path, "/")[2]); x%5 == 0 {
			w.WriteHeader(500)
			return
		}
		w.Write(plain)
	})
	tally, err := run(h.fast(), shelf(t), row(100), quick())
	var inc *fetch.Incomplete
	if !errors.As(err, &inc) || inc.Failed != 20 || len(inc.Reasons) != 5 || tally.New != 80 || tally.Failed != 20 {
		t.Errorf("%+v, %v", tally, err)
	}
}

func TestUntrustedCertificateEndsTheRunAtOnce(t *testing.T) {
	h := serve(t, sends(plain))
	secure := httptest.NewUnstartedServer(h.Config.Handler)
	secure.Config.ErrorLog = quietLog()
	secure.StartTLS()
	defer secure.Close()
	h.URL = secure.URL
	src := h.fast()
	src.Terms.Connections = 1
	tally, err := run(src, shelf(t), row(10), quick())
	stoppedFor(t, err, fetch.StopTLS, "certificate", "clock")
	if tally.Requests != 1 || h.requests() != 0 {
		t.Errorf("%+v, %d arrived", tally, h.requests())
	}
	// The same host with a client that knows the certificate.
	o := quick()
	o.Client = secure.Client()
	if tally, err := run(src, shelf(t), row(10), o); err != nil || tally.New != 10 {
		t.Errorf("trusted: %+v, %v", tally, err)
	}
}

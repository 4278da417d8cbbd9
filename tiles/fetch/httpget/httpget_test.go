package httpget_test

import (
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"groundsheet/tiles/fetch/httpget"
)

func ExampleUserAgent() {
	fmt.Println(httpget.UserAgent(""))
	fmt.Println(httpget.UserAgent("maps@office.example (GIS)"))
	// Output:
	// groundsheet/1.0
	// groundsheet/1.0 (maps@office.example \(GIS\))
}

// No failure repeats the address: it may hold a key.
func TestDiagnose(t *testing.T) {
	slow := make(chan struct{})
	quiet := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-slow }))
	defer quiet.Close()
	defer close(slow)
	closed := httptest.NewServer(nil)
	closed.Close()
	secure := httptest.NewUnstartedServer(nil)
	secure.Config.ErrorLog = log.New(io.Discard, "", 0)
	secure.StartTLS()
	defer secure.Close()
	cut := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		conn, _, err := w.(http.Hijacker).Hijack()
		if err == nil {
			conn.Close()
		}
	}))
	defer cut.Close()
	for address, want := range map[string]httpget.Failure{
		quiet.URL:              {Detail: "no whole answer within"},
		closed.URL:             {Detail: "the host cannot be reached", Unreachable: true},
		secure.URL:             {Detail: "the host cannot prove who it is", Untrusted: true},
		cut.URL:                {Detail: "the connection broke"},
		"http://127.0.0.1:bad": {Detail: "the connection broke"},
	} {
		c := httpget.Client(nil, 0)
		c.Timeout = 2 * time.Second
		_, err := c.Get(address + "/?key=s3cret")
		if err == nil {
			t.Errorf("%s: no error", address)
			continue
		}
		got := httpget.Diagnose(err, c.Timeout)
		if !strings.HasPrefix(got.Detail, want.Detail) || got.Unreachable != want.Unreachable || got.Untrusted != want.Untrusted || strings.Contains(got.Error(), "s3cret") {
			t.Errorf("%s: %+v, want %+v", address, got, want)
		}
	}
	lookup := &url.Error{URL: "s3cret", Err: &net.OpError{Op: "dial", Err: &net.DNSError{Err: "no such host", Name: "no.invalid"}}}
	if got := httpget.Diagnose(lookup, time.Second); got.Detail != "the host name cannot be looked up" || !got.Unreachable || strings.Contains(got.Error(), "s3cret") {
		t.Errorf("%+v", got)
	}
	if err := httpget.WithoutURL(&url.Error{URL: "s3cret", Err: http.ErrNoLocation}); !errors.Is(err, http.ErrNoLocation) {
		t.Error(err)
	}
}

// Package httpget has what all requests to a source share: the client, the
// User-Agent, the fields of a request for a tile, and the causes of failures
// between the two computers.
package httpget

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"groundsheet/tiles/measure"
)

const (
	// MaxRedirects is the most that one request follows.
	MaxRedirects = 3
	// MaxTile is the longest response that is read as a tile, in bytes.
	MaxTile = 8 << 20
)

// Client returns a client that follows no redirect by itself: a copy of the
// given one, or, if that is nil, a new one with at most so many connections to
// a host. Without connections to keep (0) each request closes its own.
func Client(given *http.Client, connections int) *http.Client {
	c := http.Client{Transport: &http.Transport{
		Proxy:                  http.ProxyFromEnvironment,
		DialContext:            (&net.Dialer{Timeout: 10 * time.Second, KeepAlive: 15 * time.Second}).DialContext,
		ForceAttemptHTTP2:      true,
		DisableKeepAlives:      connections == 0,
		MaxConnsPerHost:        connections,
		MaxIdleConns:           connections,
		MaxIdleConnsPerHost:    connections,
		IdleConnTimeout:        time.Minute,
		TLSHandshakeTimeout:    10 * time.Second,
		DisableCompression:     connections > 0, // tiles are compressed already, documents are not
		MaxResponseHeaderBytes: 64 << 10,
		ReadBufferSize:         32 << 10, // most tiles come in one read
	}}
	if given != nil {
		c = *given
	}
	c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &c
}

// UserAgent names the program and, if stated, whom to write to (RFC 9110,
// 10.1.5: a comment in parentheses). Every request to a source carries it.
func UserAgent(contact string) string {
	const product = "groundsheet/1.0"
	if contact = strings.TrimSpace(contact); contact == "" {
		return product
	}
	return product + " (" + strings.NewReplacer(`\`, `\\`, "(", `\(`, ")", `\)`).Replace(contact) + ")"
}

// TileFields sets the header fields of a request for a tile: always the same
// ones, so that a response that varies with them is the same one next time (RFC
// 9111, 4.1).
func TileFields(h http.Header) {
	h.Set("Accept", "image/png, image/jpeg, image/webp;q=0.9, */*;q=0.1")
	h.Set("Accept-Encoding", "identity")
}

// IsRedirect reports whether a status sends the client elsewhere.
func IsRedirect(status int) bool {
	switch status {
	case 301, 302, 303, 307, 308:
		return true
	}
	return false
}

// Failure is why a request got no response.
type Failure struct {
	Detail      string
	Err         error // the cause, if its text says more than Detail; never has the URL
	Untrusted   bool  // TLS rejected the host: another try does not help
	Unreachable bool  // there was no connection
}

// Error is the detail with the cause.
func (f *Failure) Error() string {
	if f.Err != nil {
		return f.Detail + ": " + f.Err.Error()
	}
	return f.Detail
}

// Diagnose sorts the error of a request that had a timeout.
func Diagnose(err error, timeout time.Duration) *Failure {
	err = WithoutURL(err)
	var dns *net.DNSError
	var op *net.OpError
	switch {
	case untrusted(err):
		return &Failure{Detail: "the host cannot prove who it is", Err: err, Untrusted: true}
	case errors.As(err, &dns):
		return &Failure{Detail: "the host name cannot be looked up", Err: err, Unreachable: true}
	case errors.As(err, &op) && op.Op == "dial":
		return &Failure{Detail: "the host cannot be reached", Err: err, Unreachable: true}
	case errors.Is(err, context.DeadlineExceeded):
		return &Failure{Detail: "no whole answer within " + measure.Duration(timeout)}
	}
	// What net/http quotes are the server's own words, perhaps a part of the request.
	before, _, _ := strings.Cut(err.Error(), `"`)
	return &Failure{Detail: "the connection broke: " + strings.TrimRight(before, ": ")}
}

// untrusted reports whether TLS rejected the host.
func untrusted(err error) bool {
	var cert *tls.CertificateVerificationError
	var authority x509.UnknownAuthorityError
	var name x509.HostnameError
	var invalid x509.CertificateInvalidError
	var record tls.RecordHeaderError
	var alert tls.AlertError
	return errors.As(err, &cert) || errors.As(err, &authority) || errors.As(err, &name) ||
		errors.As(err, &invalid) || errors.As(err, &record) || errors.As(err, &alert)
}

// WithoutURL drops the URL, and with it the key, that url.Error repeats.
func WithoutURL(err error) error {
	if ue, ok := errors.AsType[*url.Error](err); ok {
		return ue.Err
	}
	return err
}

// StatusText is the code with its usual words; those of the server are not
// repeated.
func StatusText(code int) string {
	return strings.TrimSpace(fmt.Sprint(code, " ", http.StatusText(code)))
}

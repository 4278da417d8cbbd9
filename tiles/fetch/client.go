package fetch

import (
	"net"
	"net/http"
	"strings"
	"time"
)

// clientFor gives a client that follows no redirect by itself; done closes the
// idle connections of one made here.
func clientFor(given *http.Client, connections int) (client *http.Client, done func()) {
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	if given != nil {
		c := *given
		c.CheckRedirect = stay
		return &c, func() {}
	}
	t := &http.Transport{
		Proxy:                  http.ProxyFromEnvironment,
		DialContext:            (&net.Dialer{Timeout: 10 * time.Second, KeepAlive: 15 * time.Second}).DialContext,
		ForceAttemptHTTP2:      true,
		MaxConnsPerHost:        connections,
		MaxIdleConns:           connections,
		MaxIdleConnsPerHost:    connections,
		IdleConnTimeout:        time.Minute,
		TLSHandshakeTimeout:    10 * time.Second,
		DisableCompression:     true,
		MaxResponseHeaderBytes: 64 << 10,
		ReadBufferSize:         32 << 10, // most tiles come in one read
	}
	return &http.Client{Transport: t, CheckRedirect: stay}, t.CloseIdleConnections
}

// UserAgent names the program and, when stated, whom to write to (RFC 9110,
// 10.1.5: a comment in parentheses). Everything that is asked of a source
// carries it.
func UserAgent(contact string) string {
	const product = "groundsheet/1.0"
	if contact = strings.TrimSpace(contact); contact == "" {
		return product
	}
	return product + " (" + strings.NewReplacer(`\`, `\\`, "(", `\(`, ")", `\)`).Replace(contact) + ")"
}

// setHeaders sends the same few headers with every request, so that an answer
// that varies with them is the same one next time (RFC 9111, 4.1).
func (r *run) setHeaders(h http.Header, with conditions) {
	h.Set("User-Agent", r.agent)
	h.Set("Accept", "image/png, image/jpeg, image/webp;q=0.9, */*;q=0.1")
	h.Set("Accept-Encoding", "identity")
	if with.etag != "" {
		h.Set("If-None-Match", with.etag)
	}
	if with.modified != "" {
		h.Set("If-Modified-Since", with.modified)
	}
}

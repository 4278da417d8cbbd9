// Package httpcache has the rules of a private HTTP cache: whether a response
// may be stored, how long it is fresh, how long it may stand in for a failing
// server, and whether a 304 confirms what is stored. It follows RFC 9110 and
// 9111 (HTTP and its caches), 5861 (stale-if-error) and 8246 (immutable).
//
// The functions are pure: they read headers and times, and store nothing.
package httpcache

import (
	"net/http"
	"slices"
	"strings"
	"time"
)

// Response is what the rules need of an HTTP response. Make it with
// [NewResponse], or fill it and set Control with [ParseDirectives].
type Response struct {
	Status    int
	Header    http.Header
	Control   Directives // of Header
	Secure    bool       // received over TLS
	Delimited bool       // the end of the body is marked, so a cut-off body is noticed
	Requested time.Time  // when the request was sent
	Received  time.Time  // when the header was received, by the same clock
}

// NewResponse takes the header of an HTTP response.
func NewResponse(r *http.Response, requested, received time.Time) Response {
	return Response{
		Status: r.StatusCode, Header: r.Header, Control: ParseDirectives(r.Header), Secure: r.TLS != nil,
		Delimited: r.ContentLength >= 0 || r.ProtoMajor >= 2 || len(r.TransferEncoding) > 0,
		Requested: requested, Received: received,
	}
}

// NoStore reports whether the response must not be stored (RFC 9111, 5.2.2.5).
// must-understand overrides no-store for the statuses whose rules are
// implemented here (5.2.2.3).
func (r Response) NoStore() bool {
	understood := slices.Contains([]int{200, 204, 304, 404, 410}, r.Status)
	return r.Control.Has("no-store") && !(r.Control.Has("must-understand") && understood)
}

// StaleIfError is how long past its freshness a response may be used when the
// server fails (RFC 5861, 4); 0 if it does not say so, or must never be used
// stale (RFC 9111, 4.2.4).
func (r Response) StaleIfError() time.Duration {
	c := r.Control
	if !c.Has("stale-if-error") || c.Has("must-revalidate") || c.Has("no-cache") || variesAlways(r.Header) {
		return 0
	}
	return c.seconds("stale-if-error")
}

// Immutable reports whether the response says that it does not change while it
// is fresh (RFC 8246, 2), and can be believed: only over TLS, and only if it is
// known to be complete (2.1).
func (r Response) Immutable() bool { return r.Secure && r.Delimited && r.Control.Has("immutable") }

// Validator is the ETag or Last-Modified field; "" if it is too long to send
// back, is not a date, or is reserved by private.
func (r Response) Validator(name string) string {
	s := r.Header.Get(name)
	if len(s) > 1000 || slices.Contains(r.Control.privateFields(), strings.ToLower(name)) {
		return ""
	}
	if name == "Last-Modified" {
		if _, err := Date(s, r.Received); err != nil {
			return ""
		}
	}
	return s
}

// Freshness is how long after Received the response stays fresh for a private
// cache (RFC 9111, 4.2): max-age, else Expires minus Date, else a tenth of the
// time since Last-Modified where the status allows a heuristic, minus the age
// on arrival. It is never negative, and 0 for a response that is stale on
// arrival or may never be used without validation (no-cache, Vary: *).
func (r Response) Freshness() time.Duration {
	date, err := Date(r.Header.Get("Date"), r.Received)
	if err != nil {
		date = r.Received
	}
	return max(r.lifetime(date)-r.initialAge(date), 0)
}

// lifetime is the freshness lifetime of RFC 9111, 4.2.1 and 4.2.2.
func (r Response) lifetime(date time.Time) time.Duration {
	if r.Control.Has("no-cache") || variesAlways(r.Header) {
		return 0
	}
	if r.Control.Has("max-age") {
		return r.Control.seconds("max-age")
	}
	if expires := r.Header.Values("Expires"); len(expires) > 0 {
		return untilExpires(expires, date)
	}
	modified, err := Date(r.Header.Get("Last-Modified"), date)
	// Heuristically cacheable statuses: RFC 9110, 15.1.
	if err != nil || !modified.Before(date) ||
		!slices.Contains([]int{200, 203, 204, 206, 300, 301, 308, 404, 405, 410, 414, 501}, r.Status) {
		return 0
	}
	return date.Sub(modified) / 10
}

// untilExpires treats an invalid date, above all "0", as expired (5.3).
func untilExpires(values []string, date time.Time) time.Duration {
	least := longestAge
	for _, v := range values {
		at, err := Date(v, date)
		if err != nil {
			return 0
		}
		least = min(least, at.Sub(date))
	}
	return least
}

// initialAge is the corrected_initial_age of RFC 9111, 4.2.3.
func (r Response) initialAge(date time.Time) time.Duration {
	apparent := max(r.Received.Sub(date), 0)
	first, _, _ := strings.Cut(r.Header.Get("Age"), ",")
	age, _ := Seconds(strings.TrimSpace(first)) // an invalid Age is ignored
	return max(apparent, age+r.Received.Sub(r.Requested))
}

// variesAlways reports whether no two requests are alike to the server: a Vary
// of "*" never matches (RFC 9111, 4.1).
func variesAlways(h http.Header) bool {
	for _, line := range h.Values("Vary") {
		for _, f := range strings.Split(line, ",") {
			if strings.TrimSpace(f) == "*" {
				return true
			}
		}
	}
	return false
}

// Validators make a request conditional; the zero value makes it a plain one.
type Validators struct{ ETag, LastModified string }

// Set puts the conditions into the header of a request (RFC 9110, 13.1).
func (v Validators) Set(h http.Header) {
	if v.ETag != "" {
		h.Set("If-None-Match", v.ETag)
	}
	if v.LastModified != "" {
		h.Set("If-Modified-Since", v.LastModified)
	}
}

// Confirmed reports whether the header of a 304 confirms what is stored (RFC
// 9111, 4.3.4): a strong tag must be equal, a weak one may match weakly, and
// without tags the dates must be equal. A 304 without validators answers the
// only question asked. Nothing is confirmed if nothing was asked.
func (v Validators) Confirmed(h http.Header) bool {
	etag, modified := h.Get("ETag"), h.Get("Last-Modified")
	switch {
	case v == Validators{}:
		return false
	case etag != "" && v.ETag != "" && strings.HasPrefix(etag, "W/"):
		return opaque(etag) == opaque(v.ETag)
	case etag != "" && v.ETag != "":
		return etag == v.ETag
	case modified != "" && v.LastModified != "":
		return modified == v.LastModified
	}
	return true
}

// opaque is the tag for the weak comparison (RFC 9110, 8.8.3.2).
func opaque(etag string) string { return strings.TrimPrefix(etag, "W/") }

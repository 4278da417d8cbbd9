package httpcache

import (
	"net/http"
	"strings"
)

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

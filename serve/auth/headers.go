package auth

import (
	"net/http"
	"strconv"
	"time"
)

// Content security policies: everything comes from this server, and pages hold no
// inline script or style.
const (
	mapPolicy = "default-src 'self'; img-src 'self' blob: data:; worker-src 'self'; " +
		"object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	joinPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; " +
		"connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

// ResourcePolicy is the Cross-Origin-Resource-Policy of every response. Pages of other
// sites cannot embed tiles, which would tell them where a pack lies. Another port of
// the same host is the same site.
const ResourcePolicy = "same-site"

// SetHeaders sets the security headers of the map page and what belongs to it.
func SetHeaders(h http.Header) { setHeaders(h, mapPolicy) }

func setHeaders(h http.Header, policy string) {
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Content-Security-Policy", policy)
	h.Set("Cross-Origin-Resource-Policy", ResourcePolicy)
	h.Set("Permissions-Policy", "geolocation=(self), screen-wake-lock=(self), camera=(), microphone=(), payment=(), usb=()")
}

// Deny answers with a plain text that no cache keeps.
func Deny(w http.ResponseWriter, status int, text string) {
	setHeaders(w.Header(), joinPolicy)
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, text, status)
}

// denyForNow names the wait in whole seconds, rounded up.
func denyForNow(w http.ResponseWriter, wait time.Duration) {
	seconds := strconv.Itoa(int((wait + time.Second - 1) / time.Second))
	w.Header().Set("Retry-After", seconds)
	Deny(w, http.StatusTooManyRequests, "too many wrong codes: try again in "+seconds+" s")
}

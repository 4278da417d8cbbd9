package auth

import (
	"net/http"
	"strconv"
	"time"
)

// What pages may load. Nothing comes from anywhere but this server, and no
// script or style stands in a page.
const (
	mapPolicy  = "default-src 'self'; img-src 'self' blob: data:; worker-src 'self'; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
	joinPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

// NearOnly is the Cross-Origin-Resource-Policy of every answer: pages of other sites
// do not show tiles as pictures, by which they would learn where there are some. A
// port more on the same machine is the same site.
const NearOnly = "same-site"

// SetHeaders puts on what the answers of the map have: what its page may load and do.
func SetHeaders(h http.Header) { setHeaders(h, mapPolicy) }

func setHeaders(h http.Header, policy string) {
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Content-Security-Policy", policy)
	h.Set("Cross-Origin-Resource-Policy", NearOnly)
	h.Set("Permissions-Policy", "geolocation=(self), screen-wake-lock=(self), camera=(), microphone=(), payment=(), usb=()")
}

// deny answers with a text that nobody keeps.
func deny(w http.ResponseWriter, status int, text string) {
	setHeaders(w.Header(), joinPolicy)
	w.Header().Set("Cache-Control", "no-store")
	http.Error(w, text, status)
}

// tooMany tells how long to wait, in whole seconds.
func tooMany(w http.ResponseWriter, wait time.Duration) {
	seconds := strconv.Itoa(int((wait + time.Second - 1) / time.Second))
	w.Header().Set("Retry-After", seconds)
	deny(w, http.StatusTooManyRequests, "too many wrong codes: try again in "+seconds+" s")
}

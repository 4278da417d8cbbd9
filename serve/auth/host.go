package auth

import (
	"net"
	"net/http"
	"net/netip"
	"os"
	"strconv"
	"strings"
	"time"
)

// hosts are the names and addresses of this server, in lower case.
type hosts map[string]bool

// newHosts adds to the operator's names the machine's own, which many systems
// announce as NAME.local, and localhost.
func newHosts(names []string) hosts {
	h := hosts{"localhost": true}
	if own, err := os.Hostname(); err == nil && own != "" {
		own, _, _ = strings.Cut(strings.ToLower(own), ".")
		h[own], h[own+".local"] = true, true
	}
	for _, n := range names {
		h[strings.ToLower(strings.TrimSuffix(n, "."))] = true
	}
	return h
}

// own reports whether a request names this server. After DNS rebinding a foreign
// page still sends its own host name. A numeric host has to be the address that
// the connection came to.
func (h hosts) own(r *http.Request) bool {
	name := hostOnly(r.Host)
	addr, err := netip.ParseAddr(name)
	if err != nil {
		return h[strings.ToLower(strings.TrimSuffix(name, "."))]
	}
	addr = addr.WithZone("").Unmap()
	if addr.IsLoopback() {
		return true
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	return ok && addr == AddrOf(local) || h[addr.String()]
}

// hostOnly removes the port, and the brackets of an IPv6 address.
func hostOnly(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
}

// AddrOf returns the IP address of one end of a TCP connection, without zone and as
// IPv4 where it is one; the invalid address for anything else.
func AddrOf(a net.Addr) netip.Addr {
	if tcp, ok := a.(*net.TCPAddr); ok {
		return tcp.AddrPort().Addr().WithZone("").Unmap()
	}
	return netip.Addr{}
}

// sender returns the address that a request came from.
func sender(r *http.Request) netip.Addr {
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{} // unknown senders count as one
	}
	return from.Addr().WithZone("").Unmap()
}

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

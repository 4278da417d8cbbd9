package auth

import (
	"net"
	"net/http"
	"net/netip"
	"os"
	"strings"
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

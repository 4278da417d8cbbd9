package auth

import (
	"net"
	"net/http"
	"net/netip"
	"os"
	"strings"
)

// hosts are the names that this server answers to.
type hosts map[string]bool

// newHosts takes the names the operator gave, beside those that the machine
// has: its own name, which many systems announce as NAME.local, and localhost.
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

// own tells whether a request was made to this server by a name or address of its
// own. A page of somebody else whose name suddenly leads here (DNS rebinding)
// still says its own name. A number must be the one the connection came to.
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
	return ok && addr == addrOf(local) || h[addr.String()]
}

// hostOnly takes the port off, and the brackets of an IPv6 address.
func hostOnly(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
}

// addrOf is the number in an address of a connection; invalid when there is none.
func addrOf(a net.Addr) netip.Addr {
	if tcp, ok := a.(*net.TCPAddr); ok {
		return tcp.AddrPort().Addr().WithZone("").Unmap()
	}
	return netip.Addr{}
}

// client is who sent a request.
func client(r *http.Request) netip.Addr {
	from, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{} // all whom nothing tells apart count as one
	}
	return from.Addr().WithZone("").Unmap()
}

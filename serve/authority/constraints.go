package authority

import (
	"net"
	"net/netip"
	"slices"
	"strings"
)

// private are the networks that an authority may be made for: other addresses are
// on the internet, as a rule.
var private = prefixes(
	"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", // RFC 1918
	"100.64.0.0/10",  // RFC 6598
	"169.254.0.0/16", // RFC 3927
	"fc00::/7",       // RFC 4193
)

// loopback is always permitted (RFC 1122, RFC 4291).
var loopback = prefixes("127.0.0.0/8", "::1/128")

func prefixes(all ...string) (out []netip.Prefix) {
	for _, text := range all {
		out = append(out, netip.MustParsePrefix(text))
	}
	return out
}

// Shortest prefixes of permitted networks; of a wider network only the part around
// this machine's address is permitted. The project's own choice, no source.
const minBits4, minBits6 = 16, 64

// interfaceNetworks returns this machine's addresses with their networks.
func interfaceNetworks() (all []netip.Prefix) {
	found, _ := net.InterfaceAddrs() // none if it fails: names still work
	for _, f := range found {
		n, ok := f.(*net.IPNet)
		if !ok {
			continue
		}
		if addr, ok := netip.AddrFromSlice(n.IP); ok {
			bits, _ := n.Mask.Size()
			all = append(all, netip.PrefixFrom(addr.Unmap(), bits))
		}
	}
	return all
}

// constraints returns what an authority permits: the names that end in .local, and the
// private networks.
func constraints(names []string, networks []netip.Prefix) (domains []string, ranges []*net.IPNet) {
	domains = []string{"localhost"}
	for _, n := range names {
		if n = strings.ToLower(n); strings.HasSuffix(n, ".local") {
			domains = append(domains, n)
		}
	}
	slices.Sort(domains)
	permitted := slices.Clone(loopback)
	for _, n := range networks {
		bits := max(n.Bits(), minBits4)
		if n.Addr().Is6() {
			bits = max(n.Bits(), minBits6)
		}
		if n.IsValid() && contain(private, n.Addr()) {
			permitted = append(permitted, netip.PrefixFrom(n.Addr(), bits).Masked())
		}
	}
	slices.SortFunc(permitted, netip.Prefix.Compare)
	for _, n := range slices.Compact(permitted) {
		ranges = append(ranges, &net.IPNet{IP: n.Addr().AsSlice(), Mask: net.CIDRMask(n.Bits(), n.Addr().BitLen())})
	}
	return slices.Compact(domains), ranges
}

func contain(networks []netip.Prefix, a netip.Addr) bool {
	return slices.ContainsFunc(networks, func(n netip.Prefix) bool { return n.Contains(a.Unmap()) })
}

// permits reports whether the authority may certify a name or an address. Its own
// constraints decide, since the machine may be in other networks now.
func (a *Authority) permits(host string) bool {
	host = strings.ToLower(host)
	if ip := net.ParseIP(host); ip != nil {
		return slices.ContainsFunc(a.cert.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip) })
	}
	return slices.ContainsFunc(a.cert.PermittedDNSDomains, func(n string) bool {
		return host == n || strings.HasSuffix(host, "."+n)
	})
}

// Private reports whether a new authority could certify a name or an address.
func Private(host string) bool {
	if addr, err := netip.ParseAddr(host); err == nil {
		return contain(private, addr) || contain(loopback, addr)
	}
	return host == "localhost" || strings.HasSuffix(strings.ToLower(host), ".local")
}

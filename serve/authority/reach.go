package authority

import (
	"net"
	"net/netip"
	"slices"
	"strings"
)

// private are the networks that an authority may be made for. An address that is in
// none of these is one on the internet, as a rule.
var private = prefixes(
	"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", // RFC 1918
	"100.64.0.0/10",  // RFC 6598
	"169.254.0.0/16", // RFC 3927
	"fc00::/7",       // RFC 4193
)

// own are the addresses of this machine alone (RFC 1122, RFC 4291).
var own = prefixes("127.0.0.0/8", "::1/128")

func prefixes(all ...string) (out []netip.Prefix) {
	for _, text := range all {
		out = append(out, netip.MustParsePrefix(text))
	}
	return out
}

// Widest networks that are taken whole, in bits of the prefix; of a wider one, the part
// round this machine's address. The project's own choice, no source.
const widest4, widest6 = 16, 64

// networksInUse are the networks of this machine's interfaces.
func networksInUse() (all []netip.Prefix) {
	found, _ := net.InterfaceAddrs() // without them the names are left
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

// reach lists what an authority is made for: the private ones of the networks, and of the
// names those that end in .local.
func reach(networks []netip.Prefix, hosts []string) (names []string, nets []netip.Prefix) {
	nets = slices.Clone(own)
	for _, n := range networks {
		widest := widest4
		if n.Addr().Is6() {
			widest = widest6
		}
		if n.IsValid() && inside(private, n.Addr()) {
			nets = append(nets, netip.PrefixFrom(n.Addr(), max(n.Bits(), widest)).Masked())
		}
	}
	names = []string{"localhost"}
	for _, h := range hosts {
		if h = strings.ToLower(h); strings.HasSuffix(h, ".local") {
			names = append(names, h)
		}
	}
	byText := func(a, b netip.Prefix) int { return strings.Compare(a.String(), b.String()) }
	slices.Sort(names)
	slices.SortFunc(nets, byText)
	return slices.Compact(names), slices.Compact(nets)
}

func inside(all []netip.Prefix, a netip.Addr) bool {
	return slices.ContainsFunc(all, func(n netip.Prefix) bool { return n.Contains(a.Unmap()) })
}

// ranges are networks as certificates hold them.
func ranges(nets []netip.Prefix) (out []*net.IPNet) {
	for _, n := range nets {
		out = append(out, &net.IPNet{IP: n.Addr().AsSlice(), Mask: net.CIDRMask(n.Bits(), n.Addr().BitLen())})
	}
	return out
}

// within tells whether the authority may certify a name or an address: by what stands in
// it, since the networks of today may be others.
func (a *Authority) within(s string) bool {
	s = strings.ToLower(s)
	if ip := net.ParseIP(s); ip != nil {
		return slices.ContainsFunc(a.cert.PermittedIPRanges, func(n *net.IPNet) bool { return n.Contains(ip) })
	}
	return slices.ContainsFunc(a.cert.PermittedDNSDomains, func(n string) bool { return s == n || strings.HasSuffix(s, "."+n) })
}

// Private tells whether a new authority could certify a name or an address.
func Private(s string) bool {
	if addr, err := netip.ParseAddr(s); err == nil {
		return inside(private, addr) || inside(own, addr)
	}
	return s == "localhost" || strings.HasSuffix(strings.ToLower(s), ".local")
}

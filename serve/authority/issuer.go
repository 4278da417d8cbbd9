package authority

import (
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
)

// Issuer provides the certificate of a server. It issues a new one when the
// machine's addresses change (the hotspot came up later) or the old one ages.
type Issuer struct {
	a     *Authority
	addr  netip.Addr // that the server listens on
	names []string

	mu          sync.Mutex
	leaf        *tls.Certificate
	hosts       []string // of the leaf
	replace     time.Time
	hostsReadAt time.Time
}

// Issuer returns the issuer for a server that listens on addr (all addresses of
// the machine if that is unspecified) and has these names. The certificate omits names
// and addresses that the authority may not certify.
func (a *Authority) Issuer(addr netip.Addr, names []string) *Issuer {
	return &Issuer{a: a, addr: addr, names: names}
}

// readEvery is how often the machine's addresses are read.
const readEvery = 5 * time.Second

// Certificate is for [tls.Config].GetCertificate.
func (i *Issuer) Certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	i.mu.Lock()
	defer i.mu.Unlock()
	now := i.a.now()
	if i.leaf != nil && now.Sub(i.hostsReadAt).Abs() < readEvery {
		return i.leaf, nil
	}
	i.hostsReadAt = now
	hosts := slices.DeleteFunc(i.all(), func(host string) bool { return !i.a.permits(host) })
	if i.leaf != nil && slices.Equal(hosts, i.hosts) && now.Before(i.replace) {
		return i.leaf, nil
	}
	leaf, err := i.a.issue(hosts)
	if err != nil {
		return nil, err
	}
	i.leaf, i.hosts, i.replace = leaf, hosts, now.Add(leafLife/2)
	return leaf, nil
}

// Uncertified returns the names and addresses of the server that its certificate omits.
func (i *Issuer) Uncertified() []string { return slices.DeleteFunc(i.all(), i.a.permits) }

// all returns the server's names and addresses, sorted.
func (i *Issuer) all() []string {
	hosts := append([]string{"localhost", "127.0.0.1", "::1"}, i.names...)
	if i.addr.IsUnspecified() || !i.addr.IsValid() {
		for _, n := range interfaceNetworks() {
			hosts = append(hosts, n.Addr().String())
		}
	} else {
		hosts = append(hosts, i.addr.String())
	}
	slices.Sort(hosts)
	return slices.Compact(hosts)
}

// issue makes a certificate for a server. Its key stays in memory.
func (a *Authority) issue(hosts []string) (*tls.Certificate, error) {
	if len(hosts) == 0 {
		return nil, errors.New("the server has no address that its certificate may hold for")
	}
	now := a.now()
	t := &x509.Certificate{
		Subject:   pkix.Name{CommonName: "field map"},
		NotBefore: now.Add(-backdated), NotAfter: now.Add(leafLife),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
	}
	if t.NotAfter.After(a.cert.NotAfter) {
		t.NotAfter = a.cert.NotAfter
	}
	for _, host := range hosts {
		if ip := net.ParseIP(host); ip != nil {
			t.IPAddresses = append(t.IPAddresses, ip)
		} else {
			t.DNSNames = append(t.DNSNames, host)
		}
	}
	der, key, err := create(t, a.cert, a.key)
	if err != nil {
		return nil, err
	}
	return &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key}, nil
}

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

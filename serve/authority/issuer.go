package authority

import (
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"net"
	"net/netip"
	"slices"
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

package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// Issuer holds the certificate a server shows, and makes it anew when the
// machine's addresses change (the hotspot came up later) or when it gets old.
type Issuer struct {
	a     *Authority
	at    netip.Addr // what the server listens on
	names []string

	mu     sync.Mutex
	leaf   *tls.Certificate
	held   []string // what the leaf holds for
	until  time.Time
	looked time.Time
}

// Issuer makes certificates for a server that listens on at (all addresses of
// the machine when that is unspecified) and has these other names. Names and
// addresses that the authority may not certify are left out.
func (a *Authority) Issuer(at netip.Addr, names []string) *Issuer {
	return &Issuer{a: a, at: at, names: names}
}

// lookEvery is how often the machine's addresses are read.
const lookEvery = 5 * time.Second

// Certificate is a tls.Config's GetCertificate.
func (i *Issuer) Certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	i.mu.Lock()
	defer i.mu.Unlock()
	now := i.a.now()
	if i.leaf != nil && now.Sub(i.looked).Abs() < lookEvery {
		return i.leaf, nil
	}
	i.looked = now
	holds := i.holdsFor()
	if i.leaf != nil && slices.Equal(holds, i.held) && now.Before(i.until) {
		return i.leaf, nil
	}
	leaf, err := i.a.issue(holds)
	if err != nil {
		return nil, err
	}
	i.leaf, i.held, i.until = leaf, holds, now.Add(leafLife/2)
	return leaf, nil
}

func (i *Issuer) holdsFor() []string {
	return slices.DeleteFunc(i.wanted(), func(s string) bool { return !i.a.within(s) })
}

// wanted lists names and addresses, sorted, so that the same set compares equal.
func (i *Issuer) wanted() []string {
	all := append([]string{"localhost", "127.0.0.1", "::1"}, i.names...)
	if i.at.IsUnspecified() || !i.at.IsValid() {
		found, _ := net.InterfaceAddrs() // without them the names are left
		for _, f := range found {
			if n, ok := f.(*net.IPNet); ok {
				all = append(all, n.IP.String())
			}
		}
	} else {
		all = append(all, i.at.String())
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// LeftOut lists the names and addresses of the server that its certificate cannot
// hold for: they are none of a private network, or of another one than when the authority was made.
func (i *Issuer) LeftOut() []string {
	return slices.DeleteFunc(i.wanted(), i.a.within)
}

// issue makes a certificate. Its key is never written.
func (a *Authority) issue(holds []string) (*tls.Certificate, error) {
	if len(holds) == 0 {
		return nil, errors.New("the server has no address that its certificate may hold for")
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("no key could be made for HTTPS: %w", err)
	}
	now := a.now()
	end := now.Add(leafLife)
	if end.After(a.cert.NotAfter) {
		end = a.cert.NotAfter
	}
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: "field map"},
		NotBefore: now.Add(-early), NotAfter: end,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	for _, h := range holds {
		if ip := net.ParseIP(h); ip != nil {
			t.IPAddresses = append(t.IPAddresses, ip)
		} else {
			t.DNSNames = append(t.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, fmt.Errorf("no certificate could be made for HTTPS: %w", err)
	}
	return &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key}, nil
}

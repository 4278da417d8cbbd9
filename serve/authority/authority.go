// Package authority makes the certificates by which a field server without
// internet speaks HTTPS: a small certificate authority that is made once and
// that phones install, and under it a certificate for the addresses of the day.
//
// A phone that trusts the authority trusts its key, so the authority can do little:
// it holds for private addresses and names ending in .local alone (name
// constraints, RFC 5280, 4.2.1.10, marked critical), it cannot make another
// authority, and it ends after two years. The key is in a file that only its owner may read.
package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Lives of certificates. Clocks of laptops and phones without internet go wrong by
// hours, so both begin before they were made.
const (
	authorityLife = 2 * 365 * 24 * time.Hour
	renewBefore   = 60 * 24 * time.Hour // an authority with less left is made anew
	leafLife      = 90 * 24 * time.Hour // well under the 397 days that browsers allow
	early         = 48 * time.Hour
)

// Options of an authority. The zero value makes one that is forgotten.
type Options struct {
	Folder string           // holds ca.crt and ca.key; "" = nowhere: every start makes a new one
	Now    func() time.Time // nil = the clock
}

// Authority makes certificates. Its methods may be called at once from several goroutines.
type Authority struct {
	cert  *x509.Certificate
	key   *ecdsa.PrivateKey
	now   func() time.Time
	notes []string
}

// Open reads the authority of an earlier start, or makes one when there is none or
// when it ends soon. A damaged one, or a key that others could read, is an error
// that names the file: phones have installed it, so it does not go by itself.
func Open(o Options) (*Authority, error) {
	a := &Authority{now: o.Now}
	if a.now == nil {
		a.now = time.Now
	}
	if o.Folder == "" {
		a.notes = []string{"the certificate is forgotten at the end: phones install a new one at the next start"}
		return a, a.make()
	}
	err := a.read(o.Folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return nil, err
	case a.now().Add(renewBefore).After(a.cert.NotAfter):
		a.notes = []string{"the old certificate ends soon: phones install the new one"}
	default:
		return a, nil
	}
	if err := a.make(); err != nil {
		return nil, err
	}
	return a, a.write(o.Folder)
}

// DER gives the certificate to install, in the form phones take (X.509, DER).
func (a *Authority) DER() []byte { return a.cert.Raw }

// Notes are for the operator: why phones have to install the certificate again.
func (a *Authority) Notes() []string { return a.notes }

// Fingerprint is the SHA-256 of the certificate as phones show it: 32 pairs of
// hexadecimal digits with colons between.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	pairs := make([]string, len(sum))
	for i, b := range sum {
		pairs[i] = fmt.Sprintf("%02X", b)
	}
	return strings.Join(pairs, ":")
}

// reach lists what the authority may certify. An address that is none of these
// is one on the internet, as a rule.
func reach() (names []string, nets []*net.IPNet) {
	for _, cidr := range []string{
		"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", // RFC 1918
		"100.64.0.0/10",                 // RFC 6598
		"169.254.0.0/16", "127.0.0.0/8", // RFC 3927, RFC 1122
		"fc00::/7", "fe80::/10", "::1/128", // RFC 4193, RFC 4291
	} {
		_, n, err := net.ParseCIDR(cidr)
		if err != nil {
			panic(err) // the list stands above
		}
		nets = append(nets, n)
	}
	return []string{"local", "localhost"}, nets
}

func (a *Authority) make() (err error) {
	if a.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader); err != nil {
		return fmt.Errorf("no key could be made for HTTPS: %w", err)
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this laptop"
	}
	names, nets := reach()
	made := a.now()
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: fmt.Sprintf("Field maps of %s, made %s", host, made.Format(time.DateOnly))},
		NotBefore: made.Add(-early), NotAfter: made.Add(authorityLife),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: names, PermittedIPRanges: nets,
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, a.key.Public(), a.key)
	if err == nil {
		a.cert, err = x509.ParseCertificate(der)
	}
	if err != nil {
		return fmt.Errorf("no certificate could be made for HTTPS: %w", err)
	}
	return nil
}

// serial is a random number of 127 bits (RFC 5280, 4.1.2.2: positive, at most 20 bytes).
func serial() *big.Int {
	b := make([]byte, 16)
	_, _ = rand.Read(b) // never fails, says crypto/rand
	b[0] = b[0]&0x7f | 0x40
	return new(big.Int).SetBytes(b)
}

func certFile(folder string) string { return filepath.Join(folder, "ca.crt") }
func keyFile(folder string) string  { return filepath.Join(folder, "ca.key") }

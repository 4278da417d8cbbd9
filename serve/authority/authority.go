// Package authority makes the certificates by which a field server without
// internet speaks HTTPS: a small certificate authority that is made once and
// that phones install, and under it a certificate for the addresses of the day.
//
// A phone that trusts the authority trusts its key, so the authority can do little: it is
// good for servers alone (extended key usage, RFC 5280, 4.2.1.12), cannot make another
// authority, and ends after a year. It holds for the server's names that end in .local
// and for the private networks that this machine was in when it was made (name constraints,
// RFC 5280, 4.2.1.10, marked critical): whoever takes the key can pose as a device of
// these networks to those phones, and as nothing else.
//
// The price: in another network than then, the certificate holds for the .local name and not
// for the address with numbers, until a new authority is made that phones install. A laptop's
// own hotspot has the same network each time, as a rule (common practice, no source).
//
// The certificate of the server itself is made at each start, when the machine's addresses change,
// and after two weeks. Phones need do nothing for that as long as the authority lives. The
// key of the authority is in a file that only its owner may read.
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
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// Lives of certificates. Clocks of laptops and phones without internet go wrong by
// hours, so both begin before they were made. The lengths are the project's own choice, no source.
const (
	authorityLife = 365 * 24 * time.Hour
	renewBefore   = 30 * 24 * time.Hour // an authority with less left is made anew
	leafLife      = 28 * 24 * time.Hour // well under the 397 days that browsers allow
	early         = 48 * time.Hour
)

// Options of an authority. The zero value makes one that is forgotten.
type Options struct {
	Folder string           // holds ca.crt and ca.key; "" = nowhere: every start makes a new one
	Now    func() time.Time // nil = the clock

	// What a new one is made for.
	Names    []string              // of the server; those that end in .local count
	Networks func() []netip.Prefix // nil = those of this machine's interfaces; the private ones count
	Renew    bool                  // make a new one, whatever there is
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
	networks := o.Networks
	if networks == nil {
		networks = networksInUse
	}
	names, nets := reach(networks(), o.Names)
	if o.Folder == "" {
		a.notes = []string{"the certificate is forgotten at the end: phones install a new one at the next start"}
		return a, a.make(names, nets)
	}
	err := a.read(o.Folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case o.Renew:
		a.notes = []string{"a new certificate was made: phones install it"}
	case err != nil:
		return nil, err
	case a.now().Add(renewBefore).After(a.cert.NotAfter):
		a.notes = []string{"the old certificate ends soon: phones install the new one"}
	default:
		if len(a.cert.ExtKeyUsage) == 0 {
			a.notes = []string{"the certificate is from before certificates were held to the networks in use: make a new one with --new-certificate soon, which phones install"}
		}
		return a, nil
	}
	if err := a.make(names, nets); err != nil {
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

func (a *Authority) make(names []string, nets []netip.Prefix) (err error) {
	if a.key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader); err != nil {
		return fmt.Errorf("no key could be made for HTTPS: %w", err)
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this laptop"
	}
	made := a.now()
	t := &x509.Certificate{
		SerialNumber: serial(), Subject: pkix.Name{CommonName: fmt.Sprintf("Field maps of %s, made %s", host, made.Format(time.DateOnly))},
		NotBefore: made.Add(-early), NotAfter: made.Add(authorityLife),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: names, PermittedIPRanges: ranges(nets),
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

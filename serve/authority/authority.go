// Package authority makes the certificates by which a field server without
// internet speaks HTTPS: a small certificate authority that is made once and
// that phones install, and below it a certificate for the server's current addresses.
//
// A phone that trusts the authority trusts its key, so the authority can do little. It
// certifies servers only (extended key usage, RFC 5280, 4.2.1.12) and no further
// authority, and it ends after a year. Its name constraints (RFC 5280, 4.2.1.10, critical)
// permit the server's names that end in .local and the private networks that this machine
// was in when the authority was made. A thief of the key can pose to those phones as a
// device of these networks, and as nothing else.
//
// The price: in another network the certificate holds for the .local name and not for the
// numeric address, until phones install a new authority. A laptop's own hotspot has the same
// network each time, as a rule (common practice, no source).
//
// The server's certificate is made at each start, when the machine's addresses change,
// and after two weeks. Phones need do nothing for that as long as the authority lives.
package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"groundsheet/tiles/durable"
	"groundsheet/tiles/fault"
)

// Lives of certificates. Clocks of laptops and phones without internet are off by
// hours, so certificates are backdated. The project's own choice, no source.
const (
	authorityLife = 365 * 24 * time.Hour
	renewBefore   = 30 * 24 * time.Hour // an authority with less left is replaced
	leafLife      = 28 * 24 * time.Hour // well under the 397 days that browsers allow
	backdated     = 48 * time.Hour
)

// Options of an authority. The zero value makes one that lasts as long as the process.
type Options struct {
	Folder string           // holds ca.crt and ca.key; "" = nothing is kept
	Now    func() time.Time // nil = time.Now

	// For a new authority.
	Names    []string              // of the server; those that end in .local are permitted
	Networks func() []netip.Prefix // nil = those of this machine's interfaces; the private ones are permitted
	Renew    bool                  // make a new one even if the kept one is valid
}

// Authority issues certificates. It is safe for concurrent use.
type Authority struct {
	cert  *x509.Certificate
	key   *ecdsa.PrivateKey
	now   func() time.Time
	notes []string
}

// Open reads the authority of an earlier start, or makes one if there is none or
// if it ends soon. A damaged one, or a key that others could read, is an error
// that names the folder: phones have installed it, so only the operator replaces it.
func Open(o Options) (*Authority, error) {
	a := &Authority{now: o.Now}
	if a.now == nil {
		a.now = time.Now
	}
	if o.Networks == nil {
		o.Networks = interfaceNetworks
	}
	if o.Folder == "" {
		a.notes = []string{"the certificate is forgotten at the end: phones install a new one at the next start"}
		return a, a.make(o)
	}
	found, err := a.read(o.Folder)
	switch {
	case !found && err == nil:
	case o.Renew:
		a.notes = []string{"a new certificate was made: phones install it"}
	case err != nil:
		return nil, err
	case a.now().Add(renewBefore).After(a.cert.NotAfter):
		a.notes = []string{"the old certificate ends soon: phones install the new one"}
	default:
		if len(a.cert.ExtKeyUsage) == 0 {
			a.notes = []string{"the certificate is from before certificates were held to the networks in use: " +
				"make a new one with --new-certificate soon, which phones install"}
		}
		return a, nil
	}
	if err := a.make(o); err != nil {
		return nil, err
	}
	return a, a.write(o.Folder)
}

// DER returns the certificate to install in the form phones take (X.509, DER).
func (a *Authority) DER() []byte { return a.cert.Raw }

// Notes tell the operator why phones have to install the certificate again.
func (a *Authority) Notes() []string { return a.notes }

// Fingerprint returns the SHA-256 of the certificate as phones show it: 32 pairs of
// hexadecimal digits with colons between.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	return strings.ReplaceAll(fmt.Sprintf("% X", sum[:]), " ", ":")
}

func (a *Authority) make(o Options) error {
	host, err := os.Hostname()
	if err != nil {
		host = "this laptop"
	}
	now := a.now()
	t := &x509.Certificate{
		Subject:   pkix.Name{CommonName: fmt.Sprintf("Field maps of %s, made %s", host, now.Format(time.DateOnly))},
		NotBefore: now.Add(-backdated), NotAfter: now.Add(authorityLife),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true,
		KeyUsage:                    x509.KeyUsageCertSign | x509.KeyUsageDigitalSignature,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		PermittedDNSDomainsCritical: true, // covers the addresses too
	}
	t.PermittedDNSDomains, t.PermittedIPRanges = constraints(o.Names, o.Networks())
	der, key, err := create(t, t, nil)
	if err != nil {
		return err
	}
	a.key = key
	a.cert, err = x509.ParseCertificate(der)
	return err
}

// create makes a key and the certificate for it, signed by a key of the parent; nil =
// self-signed. x509 chooses the serial number.
func create(t, parent *x509.Certificate, by *ecdsa.PrivateKey) (der []byte, key *ecdsa.PrivateKey, err error) {
	key, err = ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err == nil {
		if by == nil {
			by = key
		}
		der, err = x509.CreateCertificate(rand.Reader, t, parent, key.Public(), by)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("no certificate could be made for HTTPS: %w", err)
	}
	return der, key, nil
}

func certFile(folder string) string { return filepath.Join(folder, "ca.crt") }
func keyFile(folder string) string  { return filepath.Join(folder, "ca.key") }

// read loads certificate and key; found is false if there is no key.
func (a *Authority) read(folder string) (found bool, err error) {
	info, err := os.Stat(keyFile(folder))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	} else if err != nil {
		return false, err
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return true, &fault.Fault{
			Detail: "others on this machine could read " + keyFile(folder),
			Remedy: "delete it and its ca.crt, and install the new certificate on the phones",
		}
	}
	pair, err := tls.LoadX509KeyPair(certFile(folder), keyFile(folder))
	if err == nil {
		key, ok := pair.PrivateKey.(*ecdsa.PrivateKey)
		if a.cert, a.key = pair.Leaf, key; ok && a.cert.IsCA {
			return true, nil
		}
		err = errors.New("it is no authority")
	}
	return true, &fault.Fault{
		Detail: "the certificate in " + folder + " cannot be used", Err: err,
		Remedy: "delete the folder " + folder + ", and install the new certificate on the phones",
	}
}

// write ends with the key: without one, the certificate counts as none.
func (a *Authority) write(folder string) error {
	key, err := x509.MarshalECPrivateKey(a.key)
	if err == nil {
		err = os.MkdirAll(folder, 0o700)
	}
	if err == nil {
		_ = os.Remove(keyFile(folder)) // a folder that forbids it forbids the next write too
		err = writePEM(certFile(folder), "CERTIFICATE", a.cert.Raw)
	}
	if err == nil {
		err = writePEM(keyFile(folder), "EC PRIVATE KEY", key)
	}
	if err != nil {
		return &fault.Fault{Detail: "the key for HTTPS cannot be kept", Err: err}
	}
	return nil
}

func writePEM(path, kind string, der []byte) error {
	return durable.Write(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600)
}

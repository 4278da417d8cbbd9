package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

var day = time.Date(2031, 5, 6, 12, 0, 0, 0, time.UTC)

func at(now *time.Time) func() time.Time { return func() time.Time { return *now } }

func mustOpen(t testing.TB, folder string, now *time.Time) *Authority {
	t.Helper()
	return mustOpenIn(t, Options{Folder: folder, Now: at(now)})
}

// hotspot are networks of a laptop: its hotspot, one that is too wide, and some that are none of
// a hotspot.
func hotspot() []netip.Prefix {
	return prefixes("192.168.4.1/24", "10.3.7.9/8", "203.0.113.9/24", "fd00:1:2:3::7/48", "fe80::1/64", "127.0.0.1/8", "::1/128")
}

// mustOpenIn opens an authority; the zero networks and names are those of a laptop with a hotspot.
func mustOpenIn(t testing.TB, o Options) *Authority {
	t.Helper()
	if o.Networks == nil {
		o.Networks = hotspot
	}
	if o.Names == nil {
		o.Names = []string{"crew-7.local", "Laptop.local", "map.example"}
	}
	a, err := Open(o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// trusted proves a leaf as a phone does that installed the authority.
func trusted(a *Authority, leaf *tls.Certificate, name string, now time.Time) error {
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	c, err := x509.ParseCertificate(leaf.Certificate[0])
	if err != nil {
		return err
	}
	if _, err := c.Verify(x509.VerifyOptions{Roots: roots, CurrentTime: now}); err != nil {
		return err
	}
	return c.VerifyHostname(name)
}

func TestKeptBetweenStarts(t *testing.T) {
	now, dir := day, filepath.Join(t.TempDir(), "groundsheet", "authority")
	first := mustOpen(t, dir, &now)
	for _, name := range []string{"ca.key", "ca.crt"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v %v", name, err, info.Mode())
		}
	}
	now = day.AddDate(0, 10, 0)
	if again := mustOpen(t, dir, &now); again.Fingerprint() != first.Fingerprint() || len(again.Notes()) != 0 {
		t.Errorf("ten months later: %v", again.Notes())
	}
	elsewhere := Options{Folder: dir, Now: at(&now), Networks: func() []netip.Prefix { return prefixes("192.168.9.1/24") }, Names: []string{"crew-8.local"}}
	if again := mustOpenIn(t, elsewhere); again.Fingerprint() != first.Fingerprint() || len(again.Notes()) != 0 {
		t.Errorf("in another network: %v", again.Notes())
	}
	now = day.AddDate(0, 11, 10)
	if renewed := mustOpen(t, dir, &now); renewed.Fingerprint() == first.Fingerprint() || len(renewed.Notes()) != 1 {
		t.Errorf("three weeks before its end: %v", renewed.Notes())
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 2 {
		t.Errorf("left behind: %v %v", left, err)
	}
	before := mustOpen(t, dir, &now)
	elsewhere.Renew = true
	renewed := mustOpenIn(t, elsewhere)
	if renewed.Fingerprint() == before.Fingerprint() || len(renewed.Notes()) != 1 || !renewed.permits("192.168.9.77") || renewed.permits("192.168.4.1") || renewed.permits("crew-7.local") {
		t.Errorf("asked for in another network: %v", renewed.Notes())
	}
	if again := mustOpen(t, dir, &now); again.Fingerprint() != renewed.Fingerprint() {
		t.Error("it is not kept")
	}
}

// TestConstraints: what an authority is made for.
func TestConstraints(t *testing.T) {
	names, nets := constraints([]string{"crew-7.local", "Laptop.local", "map.example", "local", "203.0.113.9", "crew-7.local"}, hotspot())
	if got := strings.Join(names, " "); got != "crew-7.local laptop.local localhost" {
		t.Errorf("%s", got)
	}
	if got := strings.Trim(fmt.Sprint(nets), "[]"); got != "10.3.0.0/16 127.0.0.0/8 192.168.4.0/24 ::1/128 fd00:1:2:3::/64" {
		t.Errorf("%s", got)
	}
	if _, nets := constraints(nil, nil); len(nets) != 2 {
		t.Errorf("without a network: %v", nets)
	}
	for s, want := range map[string]bool{"192.168.4.1": true, "crew-7.local": true, "localhost": true, "::1": true, "fd00::1": true, "fe80::1": false, "203.0.113.9": false, "map.example": false, "local": false} {
		if Private(s) != want {
			t.Errorf("%s: %v", s, !want)
		}
	}
}

// TestWhatItIs holds the certificate to RFC 5280 and to what browsers ask.
func TestWhatItIs(t *testing.T) {
	now := day
	a := mustOpen(t, "", &now)
	c := a.cert
	if !c.IsCA || !c.MaxPathLenZero || !c.BasicConstraintsValid || c.KeyUsage&x509.KeyUsageCertSign == 0 || !c.PermittedDNSDomainsCritical || len(c.PermittedIPRanges) == 0 ||
		c.PublicKey.(*ecdsa.PublicKey).Curve != elliptic.P256() || c.SerialNumber.Sign() <= 0 || c.SerialNumber.BitLen() > 159 {
		t.Errorf("%+v", c)
	}
	if life := c.NotAfter.Sub(c.NotBefore); life > 368*24*time.Hour || !slices.Equal(c.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) {
		t.Errorf("the authority lives %v", life)
	}
	if f := a.Fingerprint(); len(f) != 95 || strings.Count(f, ":") != 31 {
		t.Errorf("%q", f)
	}
	leaf, err := a.Issuer(netip.MustParseAddr("192.168.4.1"), []string{"crew-7.local", "map.example", "203.0.113.9"}).Certificate(nil)
	if err != nil {
		t.Fatal(err)
	}
	l, err := x509.ParseCertificate(leaf.Certificate[0])
	if err != nil {
		t.Fatal(err)
	}
	if life := l.NotAfter.Sub(l.NotBefore); life > 31*24*time.Hour || l.IsCA || !slices.Equal(l.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) {
		t.Errorf("leaf: %v %+v", life, l)
	}
	for _, name := range []string{"192.168.4.1", "crew-7.local", "127.0.0.1", "::1", "localhost"} {
		if err := trusted(a, leaf, name, now); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, name := range []string{"map.example", "203.0.113.9", "evil.example", "192.168.4.2"} {
		if trusted(a, leaf, name, now) == nil {
			t.Errorf("%s is certified", name)
		}
	}
	for after, fine := range map[time.Duration]bool{-24 * time.Hour: true, -72 * time.Hour: false, 27 * 24 * time.Hour: true, 29 * 24 * time.Hour: false} {
		if err := trusted(a, leaf, "127.0.0.1", now.Add(after)); (err == nil) != fine {
			t.Errorf("a phone whose clock is %v ahead: %v", after, err)
		}
	}
}

// TestAttackStolenKey: with the authority's key nobody stands for a site on the
// internet, and nobody makes another authority.
func TestAttackStolenKey(t *testing.T) {
	now := day
	a := mustOpen(t, "", &now)
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	sign := func(tmpl, parent *x509.Certificate, by *ecdsa.PrivateKey) (*x509.Certificate, *ecdsa.PrivateKey) {
		t.Helper()
		key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		tmpl.NotBefore, tmpl.NotAfter = now.Add(-time.Hour), now.Add(time.Hour)
		der, err := x509.CreateCertificate(rand.Reader, tmpl, parent, key.Public(), by)
		if err != nil {
			t.Fatal(err)
		}
		c, err := x509.ParseCertificate(der)
		if err != nil {
			t.Fatal(err)
		}
		return c, key
	}
	for _, usage := range []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageEmailProtection, x509.ExtKeyUsageCodeSigning} {
		c, _ := sign(&x509.Certificate{Subject: pkix.Name{CommonName: "x"}, DNSNames: []string{"crew-7.local"}, ExtKeyUsage: []x509.ExtKeyUsage{usage}}, a.cert, a.key)
		if _, err := c.Verify(x509.VerifyOptions{Roots: roots, CurrentTime: now, KeyUsages: []x509.ExtKeyUsage{usage}}); err == nil {
			t.Errorf("usage %v is certified", usage)
		}
	}
	proved := func(c *x509.Certificate, between ...*x509.Certificate) error {
		pool := x509.NewCertPool()
		for _, b := range between {
			pool.AddCert(b)
		}
		_, err := c.Verify(x509.VerifyOptions{Roots: roots, Intermediates: pool, CurrentTime: now})
		return err
	}
	server := func(names []string, ips ...net.IP) *x509.Certificate {
		return &x509.Certificate{Subject: pkix.Name{CommonName: "x"}, DNSNames: names, IPAddresses: ips, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	}
	if c, _ := sign(server([]string{"crew-7.local"}, net.ParseIP("192.168.4.9"), net.ParseIP("fd00:1:2:3::9")), a.cert, a.key); proved(c) != nil {
		t.Error(proved(c)) // else the rest shows nothing
	}
	for _, names := range [][]string{{"bank.example"}, {"local.example"}, {"notlocal"}, {"crew-8.local"}, {"crew-7.local", "bank.example"}} {
		if c, _ := sign(server(names), a.cert, a.key); proved(c) == nil {
			t.Errorf("%v is certified", names)
		}
	}
	for _, ip := range []string{"203.0.113.9", "8.8.8.8", "172.32.0.1", "2001:db8::1", "192.168.5.1", "10.4.0.1", "172.16.0.1", "fd00:1:2:4::1"} {
		if c, _ := sign(server(nil, net.ParseIP(ip)), a.cert, a.key); proved(c) == nil {
			t.Errorf("%v is certified", ip)
		}
	}
	under, key := sign(&x509.Certificate{Subject: pkix.Name{CommonName: "y"}, IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}, a.cert, a.key)
	if c, _ := sign(server([]string{"crew-7.local"}), under, key); proved(c, under) == nil {
		t.Error("another authority is trusted")
	}
}

// TestRenewal: the certificate follows the clock, and is the same in between.
func TestRenewal(t *testing.T) {
	now := day
	a := mustOpen(t, "", &now)
	i := a.Issuer(netip.MustParseAddr("0.0.0.0"), []string{"crew-7.local"})
	get := func() *tls.Certificate {
		t.Helper()
		c, err := i.Certificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	first := get()
	now = now.Add(time.Hour)
	if get() != first {
		t.Error("a new one for no reason")
	}
	now = now.Add(15 * 24 * time.Hour)
	if second := get(); second == first || trusted(a, second, "crew-7.local", now) != nil {
		t.Error("after fifteen days it is the old one")
	}
	i.hosts = nil // as when the machine's addresses were others
	now = now.Add(time.Minute)
	before := i.leaf
	if get() == before {
		t.Error("new addresses make no new certificate")
	}
}

// TestLeavesOfAWholeLife: whatever day of the authority's life it is, the server's certificate of that
// day is proved by the one phones installed at first, and none outlives it.
func TestLeavesOfAWholeLife(t *testing.T) {
	now := day
	a := mustOpen(t, "", &now)
	i := a.Issuer(netip.MustParseAddr("192.168.4.1"), []string{"crew-7.local"})
	made := map[*tls.Certificate]bool{}
	for ; now.Before(day.Add(authorityLife)); now = now.Add(24 * time.Hour) {
		leaf, err := i.Certificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		made[leaf] = true
		for _, name := range []string{"192.168.4.1", "crew-7.local"} {
			if err := trusted(a, leaf, name, now); err != nil {
				t.Fatalf("day %d, %s: %v", int(now.Sub(day).Hours()/24), name, err)
			}
		}
		if c, err := x509.ParseCertificate(leaf.Certificate[0]); err != nil || c.NotAfter.After(a.cert.NotAfter) {
			t.Fatalf("it ends after the authority: %v", err)
		}
	}
	if len(made) < 20 {
		t.Errorf("%d certificates in a year", len(made))
	}
}

// TestBadFiles: phones have installed the certificate, so nothing is made anew behind
// the operator's back, and nothing on the disk changes.
func TestBadFiles(t *testing.T) {
	now := day
	other := t.TempDir()
	mustOpen(t, other, &now)
	for name, spoil := range map[string]func(dir string) error{
		"others could read the key": func(dir string) error { return os.Chmod(keyFile(dir), 0o640) },
		"no certificate":            func(dir string) error { return os.Remove(certFile(dir)) },
		"key cut short":             func(dir string) error { return os.Truncate(keyFile(dir), 40) },
		"empty certificate":         func(dir string) error { return os.Truncate(certFile(dir), 0) },
		"key of another": func(dir string) error {
			b, err := os.ReadFile(keyFile(other))
			if err != nil {
				return err
			}
			return os.WriteFile(keyFile(dir), b, 0o600)
		},
	} {
		dir := t.TempDir()
		mustOpen(t, dir, &now)
		if err := spoil(dir); err != nil {
			t.Fatal(err)
		}
		before := snapshot(t, dir)
		_, err := Open(Options{Folder: dir, Now: at(&now)})
		if err == nil || !strings.Contains(err.Error(), dir) || !strings.Contains(err.Error(), "delete") {
			t.Errorf("%s: %v", name, err)
		}
		if snapshot(t, dir) != before {
			t.Errorf("%s: something changed", name)
		}
	}
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(Options{Folder: filepath.Join(file, "x"), Now: at(&now)}); err == nil {
		t.Error("a folder that cannot be made")
	}
}

func snapshot(t *testing.T, dir string) string {
	t.Helper()
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, e := range all {
		body, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		b.WriteString(e.Name() + string(body))
	}
	return b.String()
}

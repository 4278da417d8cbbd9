//go:build outside

package authority

import (
	"context"
	"crypto/tls"
	"encoding/pem"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestOutsideOpenSSL: OpenSSL proves the chain, reads the constraints and gives the
// same fingerprint; it refuses what the authority may not certify.
func TestOutsideOpenSSL(t *testing.T) {
	now, dir := time.Now(), t.TempDir()
	a := mustOpen(t, dir, &now)
	leaf, err := a.Issuer(netip.MustParseAddr("192.168.4.1"), []string{"crew-7.local"}).Certificate(nil)
	if err != nil {
		t.Fatal(err)
	}
	write := func(name string, der []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	openssl := func(args ...string) (string, error) {
		out, err := exec.CommandContext(t.Context(), "openssl", args...).CombinedOutput()
		return string(out), err
	}
	good := write("leaf.pem", leaf.Certificate[0])
	for _, name := range [][]string{{"-verify_ip", "192.168.4.1"}, {"-verify_ip", "127.0.0.1"}, {"-verify_hostname", "crew-7.local"}} {
		args := append([]string{"verify", "-x509_strict", "-purpose", "sslserver", "-CAfile", certFile(dir)}, name...)
		if out, err := openssl(append(args, good)...); err != nil {
			t.Errorf("%v: %s", name, out)
		}
		bad := map[string]string{"-verify_ip": "192.168.4.2", "-verify_hostname": "crew-8.local"}[name[0]]
		args = append(args[:len(args)-1], bad, good)
		if out, err := openssl(args...); err == nil {
			t.Errorf("%s passes: %s", bad, out)
		}
	}
	beyond, err := a.issue([]string{"bank.example"})
	if err != nil {
		t.Fatal(err)
	}
	if out, err := openssl("verify", "-CAfile", certFile(dir), write("beyond.pem", beyond.Certificate[0])); err == nil || !strings.Contains(out, "permitted subtree violation") {
		t.Errorf("a site on the internet: %v %s", err, out)
	}
	elsewhere, err := a.issue([]string{"192.168.9.1", "crew-7.local"})
	if err != nil {
		t.Fatal(err)
	}
	if out, err := openssl("verify", "-CAfile", certFile(dir), write("elsewhere.pem", elsewhere.Certificate[0])); err == nil || !strings.Contains(out, "permitted subtree violation") {
		t.Errorf("an address of another network: %v %s", err, out)
	}
	if out, err := openssl("verify", "-purpose", "sslclient", "-CAfile", certFile(dir), good); err == nil {
		t.Errorf("a client's certificate: %s", out)
	}
	text, err := openssl("x509", "-in", certFile(dir), "-noout", "-fingerprint", "-sha256", "-text")
	if err != nil || !strings.Contains(text, "Fingerprint="+a.Fingerprint()) || !strings.Contains(text, "Name Constraints: critical") || !strings.Contains(text, "IP:192.168.4.0/255.255.255.0") || strings.Contains(text, "172.16") || !strings.Contains(text, "TLS Web Server Authentication") {
		t.Errorf("%v %s", err, text)
	}
}

// TestOutsideCurl: curl, which uses OpenSSL or another library, comes in with the
// authority's file and not without.
func TestOutsideCurl(t *testing.T) {
	now, dir := time.Now(), t.TempDir()
	a := mustOpen(t, dir, &now)
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := http.Server{
		Handler:   http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write([]byte("in")) }),
		TLSConfig: &tls.Config{GetCertificate: a.Issuer(netip.MustParseAddr("127.0.0.1"), nil).Certificate, MinVersion: tls.VersionTLS12}, ReadHeaderTimeout: time.Minute,
	}
	go s.ServeTLS(l, "", "")
	defer s.Close()
	curl := func(ctx context.Context, args ...string) (string, error) {
		out, err := exec.CommandContext(ctx, "curl", append(args, "-sS", "https://"+l.Addr().String()+"/")...).CombinedOutput()
		return string(out), err
	}
	if out, err := curl(t.Context(), "--cacert", certFile(dir)); err != nil || out != "in" {
		t.Errorf("%v %s", err, out)
	}
	if out, err := curl(t.Context()); err == nil {
		t.Errorf("without the authority: %s", out)
	}
}

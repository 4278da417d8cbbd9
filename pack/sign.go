package pack

import (
	"context"
	"crypto/ed25519"
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"os"
)

// Signature is who vouches for a pack: Ed25519 (RFC 8032) over its seal. A seal
// finds accidents, a signature also what was changed on purpose.
type Signature struct {
	Key       []byte `json:"key"` // the public key
	Signature []byte `json:"signature"`
}

func signed(seal string) []byte { return []byte("groundsheet pack " + seal) }

// Signs reports whether the signature is of this key and over this seal.
func (s Signature) Signs(key ed25519.PublicKey, seal string) bool {
	return len(key) == ed25519.PublicKeySize && key.Equal(ed25519.PublicKey(s.Key)) &&
		ed25519.Verify(key, signed(seal), s.Signature)
}

// Signature reads the signature of a pack; ok is false where there is none.
func (p *Pack) Signature(ctx context.Context) (s Signature, ok bool, err error) {
	if !p.Info.Own {
		return s, false, nil
	}
	text, err := p.onlyDocument(ctx, signatureKey)
	if err == nil && text != nil {
		err = json.Unmarshal(text, &s)
	}
	if err != nil {
		return s, false, p.unreadable("its signature", err)
	}
	return s, text != nil, nil
}

// signedBy reports whether a pack bears the signature of a key; without a key it
// need not bear any.
func (p *Pack) signedBy(ctx context.Context, key ed25519.PrivateKey) bool {
	if key == nil {
		return true
	}
	s, ok, err := p.Signature(ctx)
	return err == nil && ok && s.Signs(key.Public().(ed25519.PublicKey), p.Info.Seals.Seal)
}

// PrivateKey reads a signing key, PEM in PKCS #8 (RFC 8410), as
// openssl genpkey -algorithm ed25519 writes it.
func PrivateKey(path string) (ed25519.PrivateKey, error) {
	block, err := readPEM(path, "PRIVATE KEY")
	if err != nil {
		return nil, err
	}
	key, err := x509.ParsePKCS8PrivateKey(block)
	if private, ok := key.(ed25519.PrivateKey); err == nil && ok {
		return private, nil
	}
	return nil, notKey(path, "PRIVATE KEY")
}

// PublicKey reads the key that a signature is held against, PEM, as openssl pkey
// -pubout writes it.
func PublicKey(path string) (ed25519.PublicKey, error) {
	block, err := readPEM(path, "PUBLIC KEY")
	if err != nil {
		return nil, err
	}
	key, err := x509.ParsePKIXPublicKey(block)
	if public, ok := key.(ed25519.PublicKey); err == nil && ok {
		return public, nil
	}
	return nil, notKey(path, "PUBLIC KEY")
}

func readPEM(path, kind string) ([]byte, error) {
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("%s: there is no such file: check the name", path)
	}
	if err != nil {
		return nil, err
	}
	if block, _ := pem.Decode(data); block != nil && block.Type == kind {
		return block.Bytes, nil
	}
	return nil, notKey(path, kind)
}

func notKey(path, kind string) error {
	how := "openssl genpkey -algorithm ed25519 -out office.key"
	if kind == "PUBLIC KEY" {
		how = "openssl pkey -in office.key -pubout -out office.pub"
	}
	return fmt.Errorf("%s: not an Ed25519 key (PEM, %s): make one with %s", path, kind, how)
}

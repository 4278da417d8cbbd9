package authority

import (
	"crypto/ecdsa"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// read gives fs.ErrNotExist when neither file is there.
func (a *Authority) read(folder string) error {
	info, err := os.Stat(keyFile(folder))
	if err != nil {
		return err
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return fmt.Errorf("others on this machine could read %s: delete it and its ca.crt, and install the new certificate on the phones", keyFile(folder))
	}
	damaged := func(path string, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			err = errors.New("it is missing")
		}
		return fmt.Errorf("%s cannot be used: %w; delete the folder %s, and install the new certificate on the phones", path, err, folder)
	}
	der, err := readPEM(keyFile(folder), "EC PRIVATE KEY")
	if err == nil {
		a.key, err = x509.ParseECPrivateKey(der)
	}
	if err != nil {
		return damaged(keyFile(folder), err)
	}
	if der, err = readPEM(certFile(folder), "CERTIFICATE"); err == nil {
		a.cert, err = x509.ParseCertificate(der)
	}
	if err != nil {
		return damaged(certFile(folder), err)
	}
	if pub, ok := a.cert.PublicKey.(*ecdsa.PublicKey); !ok || !pub.Equal(a.key.Public()) || !a.cert.IsCA {
		return damaged(certFile(folder), errors.New("it does not belong to the key beside it"))
	}
	return nil
}

func readPEM(path, kind string) ([]byte, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	block, _ := pem.Decode(text)
	if block == nil || block.Type != kind {
		return nil, fmt.Errorf("it holds no %s", kind)
	}
	return block.Bytes, nil
}

// write puts the certificate first: a cut in between leaves one without a key,
// which is as good as none.
func (a *Authority) write(folder string) error {
	key, err := x509.MarshalECPrivateKey(a.key)
	if err != nil {
		return fmt.Errorf("the key for HTTPS cannot be kept: %w", err)
	}
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return fmt.Errorf("the key for HTTPS cannot be kept: %w", err)
	}
	if err := os.Remove(keyFile(folder)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("the old key for HTTPS stays: %w", err)
	}
	err = writePEM(certFile(folder), "CERTIFICATE", a.cert.Raw)
	if err == nil {
		err = writePEM(keyFile(folder), "EC PRIVATE KEY", key)
	}
	if err != nil {
		return fmt.Errorf("the key for HTTPS cannot be kept: %w", err)
	}
	return nil
}

func writePEM(path, kind string, der []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+"-*") // made for its owner alone
	if err != nil {
		return err
	}
	err = pem.Encode(f, &pem.Block{Type: kind, Bytes: der})
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}

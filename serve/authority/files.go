package authority

import (
	"crypto/ecdsa"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"

	"github.com/google/renameio/v2/maybe"

	"groundsheet/tiles/fault"
)

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
	return maybe.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600)
}

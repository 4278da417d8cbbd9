package filehash_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"groundsheet/tiles/filehash"
)

// The hash of "abc" is the first example of FIPS 180-4 (NIST, SHA-256).
func TestOf(t *testing.T) {
	path := filepath.Join(t.TempDir(), "abc")
	if err := os.WriteFile(path, []byte("abc"), 0o600); err != nil {
		t.Fatal(err)
	}
	const want = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
	if sum, n, err := filehash.Of(t.Context(), path); err != nil || sum != want || n != 3 {
		t.Errorf("%s, %d, %v; want %s, 3", sum, n, err, want)
	}
	ended, end := context.WithCancel(t.Context())
	end()
	if _, _, err := filehash.Of(ended, path); !errors.Is(err, context.Canceled) {
		t.Errorf("after its end: %v", err)
	}
	if _, _, err := filehash.Of(t.Context(), path+" is not there"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file that is not there: %v", err)
	}
}

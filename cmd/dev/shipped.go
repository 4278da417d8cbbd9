package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
)

// shippedTests makes the release twice, which must give the same bytes, and tries what
// people would download.
func shippedTests(ctx context.Context, r repo) error {
	once, again := r.path(".cache", "release", "out"), r.path(".cache", "release", "again")
	made, err := makeRelease(ctx, r, once, nil)
	if err != nil {
		return err
	}
	if _, err := makeRelease(ctx, r, again, nil); err != nil {
		return err
	}
	for _, name := range append(made.files, "SHA256SUMS") {
		if err := sameBytes(filepath.Join(once, name), filepath.Join(again, name)); err != nil {
			return err
		}
	}
	fmt.Printf("%d files, built twice: the same bytes\n", len(made.files))
	return r.run(ctx, "go", "test", "-tags", "shipped", "-run", "Shipped", "-count=1", "-v", "-parallel", "4", "./cmd/dev", "-args", "-release="+once)
}

func sameBytes(one, other string) error {
	a, err := os.ReadFile(one)
	if err != nil {
		return err
	}
	b, err := os.ReadFile(other)
	if err == nil && !bytes.Equal(a, b) {
		err = fmt.Errorf("%s comes out otherwise when it is built again", filepath.Base(one))
	}
	return err
}

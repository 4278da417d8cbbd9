// Package filehash takes the SHA-256 of files, however large, and stops when it is told to.
package filehash

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"os"
)

// Of gives the SHA-256 of a file in hexadecimal, and its size in bytes.
func Of(ctx context.Context, path string) (sum string, bytes int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	bytes, err = io.CopyBuffer(h, Stoppable(ctx, f), make([]byte, 1<<20))
	return hex.EncodeToString(h.Sum(nil)), bytes, err
}

// Stoppable reads from r until the context ends; then it gives the context's error.
func Stoppable(ctx context.Context, r io.Reader) io.Reader { return &stoppable{ctx, r} }

type stoppable struct {
	ctx context.Context
	io.Reader
}

func (s *stoppable) Read(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.Reader.Read(b)
}

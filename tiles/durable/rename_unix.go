//go:build !windows

package durable

import (
	"errors"
	"os"
	"syscall"
)

func rename(from, to string) error { return os.Rename(from, to) }

func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = f.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, syscall.ENOTSUP) {
		err = nil // a disk whose system syncs files alone
	}
	return errors.Join(err, f.Close())
}

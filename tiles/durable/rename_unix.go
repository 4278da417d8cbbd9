//go:build !windows

package durable

import (
	"errors"
	"os"
)

func rename(from, to string) error { return os.Rename(from, to) }

func syncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

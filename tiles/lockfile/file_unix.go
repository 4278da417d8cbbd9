//go:build !windows

package lockfile

import (
	"errors"
	"os"
	"syscall"
)

// open opens the file and locks it for this opening alone; the system lets go when
// the process ends.
func open(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o644)
	if err != nil {
		return nil, err
	}
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == nil {
		return f, nil
	}
	_ = f.Close()
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return nil, ErrHeld
	}
	return nil, err
}

// remove takes the file away while it is still locked.
func remove(f *os.File, path string) error {
	return errors.Join(os.Remove(path), f.Close())
}

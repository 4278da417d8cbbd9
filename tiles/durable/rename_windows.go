package durable

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// What Windows says of a file that somebody has open.
const (
	errAccess  = syscall.ERROR_ACCESS_DENIED
	errSharing = syscall.Errno(32) // ERROR_SHARING_VIOLATION
)

// patience is how long a file that is in use is tried again: scanners for viruses hold new
// files for a moment.
const patience = 2 * time.Second

// rename moves an open file out of the way first: Windows lets it be moved, not replaced. It
// goes for good when the last process closes it.
func rename(from, to string) error {
	for began := time.Now(); ; time.Sleep(20 * time.Millisecond) {
		err := os.Rename(from, to)
		if err == nil || !inUse(err) || !isFile(to) {
			return err
		}
		aside := filepath.Join(filepath.Dir(to), fmt.Sprintf(".%s.%d.old", filepath.Base(to), os.Getpid()))
		if os.Rename(to, aside) == nil {
			if err = os.Rename(from, to); err == nil {
				_ = os.Remove(aside) // what is held still is taken away by the next run
				return nil
			}
			err = errors.Join(err, os.Rename(aside, to))
		}
		if time.Since(began) > patience {
			return err
		}
	}
}

// isFile tells a file from a folder, which is never moved out of the way.
func isFile(path string) bool {
	info, err := os.Lstat(path)
	return err == nil && info.Mode().IsRegular()
}

func inUse(err error) bool { return errors.Is(err, errAccess) || errors.Is(err, errSharing) }

// syncFolder does nothing: Windows cannot sync a folder, and its rename needs no such help.
func syncFolder(string) error { return nil }

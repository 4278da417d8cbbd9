package lockfile

import (
	"errors"
	"os"
	"syscall"
)

const errSharing = syscall.Errno(32) // ERROR_SHARING_VIOLATION

// open opens the file so that nobody else can open it for writing; the system lets
// go when the process ends.
func open(path string) (*os.File, error) {
	name, err := syscall.UTF16PtrFromString(path)
	if err != nil {
		return nil, err
	}
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE, syscall.FILE_SHARE_READ, nil,
		syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if errors.Is(err, errSharing) {
		return nil, ErrHeld
	}
	if err != nil {
		return nil, err
	}
	return os.NewFile(uintptr(h), path), nil
}

// remove leaves the file empty: a file that is open cannot be taken away here.
func remove(f *os.File, _ string) error {
	return errors.Join(f.Truncate(0), f.Close())
}

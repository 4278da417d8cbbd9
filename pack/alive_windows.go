package pack

import (
	"errors"
	"syscall"
)

// alive tells whether a process still runs; one that cannot be looked at counts as running.
func alive(pid int) bool {
	h, err := syscall.OpenProcess(syscall.SYNCHRONIZE, false, uint32(pid))
	if err != nil {
		return errors.Is(err, syscall.ERROR_ACCESS_DENIED)
	}
	defer syscall.CloseHandle(h) //nolint:errcheck // nothing depends on it
	ended, err := syscall.WaitForSingleObject(h, 0)
	return err != nil || ended != syscall.WAIT_OBJECT_0
}

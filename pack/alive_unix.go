//go:build !windows

package pack

import (
	"errors"
	"os"
	"syscall"
)

// alive tells whether a process still runs.
func alive(pid int) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || errors.Is(err, os.ErrPermission)
}

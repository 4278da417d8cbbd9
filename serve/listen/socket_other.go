//go:build !linux

package listen

import (
	"net"
	"syscall"
)

// cork does nothing: only Linux has MSG_MORE.
func cork(l limitListener) net.Listener { return l }

// setUserTimeout leaves the time after which a phone counts as lost to the system.
func setUserTimeout(_, _ string, _ syscall.RawConn) error { return nil }

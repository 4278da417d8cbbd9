//go:build !linux

package auth

import "syscall"

// loseSoon leaves it to the system when a phone that takes nothing any more counts as lost.
func loseSoon(_, _ string, _ syscall.RawConn) error { return nil }

package auth

import (
	"syscall"
	"time"
)

// lostAfter is when a phone that takes nothing any more counts as lost. Linux would
// send again for a quarter of an hour, and as long keep its places among the
// connections and the streams.
const lostAfter = time.Minute

// tcpUserTimeout is TCP_USER_TIMEOUT of Linux (RFC 5482), which package syscall does not name.
const tcpUserTimeout = 18

// loseSoon sets a listening socket; connections inherit it.
func loseSoon(_, _ string, c syscall.RawConn) error {
	var err error
	told := c.Control(func(fd uintptr) {
		err = syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, tcpUserTimeout, int(lostAfter.Milliseconds()))
	})
	if told != nil {
		return told
	}
	return err
}

package listen

import (
	"errors"
	"syscall"
	"time"
)

// userTimeout is when a phone that acknowledges nothing any more counts as lost. Linux would
// retransmit for a quarter of an hour, and the phone keep its connections and streams.
const userTimeout = time.Minute

// tcpUserTimeout is TCP_USER_TIMEOUT of Linux (RFC 5482), which package syscall lacks.
const tcpUserTimeout = 18

// setUserTimeout is a [net.ListenConfig]'s Control; connections inherit the option.
func setUserTimeout(_, _ string, c syscall.RawConn) error {
	var failed error
	err := c.Control(func(fd uintptr) {
		failed = syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, tcpUserTimeout, int(userTimeout.Milliseconds()))
	})
	return errors.Join(err, failed)
}

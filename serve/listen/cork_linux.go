package listen

import (
	"net"
	"sync/atomic"
	"syscall"
	"time"
)

// serverBuffer is what net/http collects of a response before it writes. A write of
// this size is nearly always the header with the start of a body that the next write
// continues.
const serverBuffer = 4 << 10

// corkListener sends the header of a response together with what follows: one
// packet less for each tile, and the phone wakes once.
type corkListener struct{ limitListener }

// cork makes the connections of a listener wait for more after a full buffer.
func cork(l limitListener) net.Listener { return corkListener{l} }

// Accept waits for a connection.
func (l corkListener) Accept() (net.Conn, error) {
	conn, err := l.limitListener.Accept()
	if err != nil {
		return nil, err
	}
	limited := conn.(limitedConn)
	raw, err := limited.SyscallConn()
	if err != nil {
		return conn, nil //nolint:nilerr // it works without corking
	}
	c := &corkedConn{limitedConn: limited, raw: raw}
	c.send = c.trySend
	return c, nil
}

// corkedConn marks a full buffer with MSG_MORE (send(2)). If nothing follows, it
// is sent when the server turns to the next request, and after 200 ms at the latest
// (tcp(7), TCP_CORK).
type corkedConn struct {
	limitedConn
	raw    syscall.RawConn
	corked atomic.Bool // the last write may still wait in the kernel

	// State of the one running write. send is trySend, allocated once.
	send func(fd uintptr) bool
	full []byte
	sent int
}

// Write sends b, or leaves it with the kernel until the next write.
func (c *corkedConn) Write(b []byte) (int, error) {
	if len(b) != serverBuffer {
		c.corked.Store(false) // this write sends what waits
		return c.limitedConn.Write(b)
	}
	c.full, c.sent = b, 0
	c.corked.Store(true)
	_ = c.raw.Write(c.send) // the next write returns the same error
	c.full = nil
	if c.sent == len(b) {
		return c.sent, nil
	}
	n, err := c.limitedConn.Write(b[c.sent:])
	return c.sent + n, err
}

// trySend sends what the kernel takes without waiting.
func (c *corkedConn) trySend(fd uintptr) bool {
	if n, err := syscall.SendmsgN(int(fd), c.full, nil, nil, syscall.MSG_MORE|syscall.MSG_NOSIGNAL); err == nil {
		c.sent = n
	}
	return true
}

// SetReadDeadline is called by net/http after each response and before each request.
func (c *corkedConn) SetReadDeadline(t time.Time) error {
	if c.corked.Swap(false) {
		_ = c.SetNoDelay(true) // sends what waits (tcp(7)); otherwise it goes after 200 ms
	}
	return c.limitedConn.SetReadDeadline(t)
}

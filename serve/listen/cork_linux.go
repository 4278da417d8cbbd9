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
	c.try = c.send
	return c, nil
}

// corkedConn marks a full buffer with MSG_MORE (send(2)). If nothing follows, it
// is sent when the server turns to the next request, and after 200 ms at the latest
// (tcp(7), TCP_CORK).
type corkedConn struct {
	limitedConn
	raw    syscall.RawConn
	corked atomic.Bool // the last write may still wait in the kernel

	// State of the one running write. try is send, allocated once.
	try  func(fd uintptr) bool
	rest []byte
	sent int
	err  error
}

// Write sends b, or leaves it with the kernel until the next write.
func (c *corkedConn) Write(b []byte) (int, error) {
	if len(b) != serverBuffer {
		c.corked.Store(false) // this write sends what waits
		return c.limitedConn.Write(b)
	}
	c.rest, c.sent, c.err = b, 0, nil
	c.corked.Store(true)
	err := c.raw.Write(c.try)
	c.rest = nil
	if err == nil {
		err = c.err
	}
	return c.sent, err
}

// send returns false if the kernel takes no more for now.
func (c *corkedConn) send(fd uintptr) bool {
	for c.sent < len(c.rest) {
		n, err := syscall.SendmsgN(int(fd), c.rest[c.sent:], nil, nil, syscall.MSG_MORE|syscall.MSG_NOSIGNAL)
		switch err {
		case nil:
			c.sent += n
		case syscall.EINTR:
		case syscall.EAGAIN:
			return false
		default:
			c.err = &net.OpError{Op: "write", Net: "tcp", Source: c.LocalAddr(), Addr: c.RemoteAddr(), Err: err}
			return true
		}
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

package auth

import (
	"net"
	"sync/atomic"
	"syscall"
	"time"
)

// serverBuffer is what net/http's server gathers of an answer before it writes.
// A write of just that much is nearly always the head of an answer whose body is
// the next write.
const serverBuffer = 4 << 10

// joining makes a listener's connections send the head of an answer together
// with what follows it. One packet less for each tile, and the phone is woken
// once.
func joining(l net.Listener) net.Listener { return joiner{l} }

type joiner struct{ net.Listener }

// Accept waits for a connection.
func (l joiner) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	tcp, ok := conn.(*net.TCPConn)
	if !ok {
		return conn, nil
	}
	raw, err := tcp.SyscallConn()
	if err != nil {
		return conn, nil //nolint:nilerr // it serves as it is
	}
	j := &joined{TCPConn: tcp, raw: raw}
	j.try = j.send
	return j, nil
}

// joined tells the system that more follows a full buffer (MSG_MORE, send(2)).
// Should nothing follow, the buffer goes out as soon as the server turns to the
// next request, and after 200 ms whatever happens (tcp(7), TCP_CORK).
type joined struct {
	*net.TCPConn
	raw  syscall.RawConn
	held atomic.Bool // the last write may still wait

	// One writer at a time writes a connection. try is send, made once.
	try  func(fd uintptr) bool
	rest []byte
	sent int
	err  error
}

// Write sends b, or leaves it with the system until the next write.
func (j *joined) Write(b []byte) (int, error) {
	if len(b) != serverBuffer {
		j.held.Store(false) // what waits goes with it
		return j.TCPConn.Write(b)
	}
	j.rest, j.sent, j.err = b, 0, nil
	j.held.Store(true)
	err := j.raw.Write(j.try)
	j.rest = nil
	if err == nil {
		err = j.err
	}
	return j.sent, err
}

// send reports false when the system takes no more for now.
func (j *joined) send(fd uintptr) bool {
	for j.sent < len(j.rest) {
		n, err := syscall.SendmsgN(int(fd), j.rest[j.sent:], nil, nil, syscall.MSG_MORE|syscall.MSG_NOSIGNAL)
		switch err {
		case nil:
			j.sent += n
		case syscall.EINTR:
		case syscall.EAGAIN:
			return false
		default:
			j.err = &net.OpError{Op: "write", Net: "tcp", Source: j.LocalAddr(), Addr: j.RemoteAddr(), Err: err}
			return true
		}
	}
	return true
}

// SetReadDeadline is what net/http's server calls when an answer is written, and
// before it reads the next request.
func (j *joined) SetReadDeadline(t time.Time) error {
	if j.held.Swap(false) {
		_ = j.SetNoDelay(true) // sends what waits (tcp(7)); else it goes after 200 ms
	}
	return j.TCPConn.SetReadDeadline(t)
}

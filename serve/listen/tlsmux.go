package listen

import (
	"errors"
	"net"
	"sync"
	"time"
)

// tlsMux splits the connections of one port between two servers: those that begin
// with a TLS handshake, and plain ones. So an address typed without https://
// still leads somewhere.
type tlsMux struct {
	limitListener
	timeout    time.Duration // for the first byte
	tls, plain chan net.Conn
	done       chan struct{}
	stop       func() error
}

func newTLSMux(l limitListener, timeout time.Duration) *tlsMux {
	m := &tlsMux{limitListener: l, timeout: timeout, done: make(chan struct{})}
	m.tls, m.plain = make(chan net.Conn), make(chan net.Conn)
	m.stop = sync.OnceValue(func() error { close(m.done); return l.Close() })
	go m.accept()
	return m
}

// accept runs until the listener is closed.
func (m *tlsMux) accept() {
	for {
		conn, err := m.limitListener.Accept()
		switch {
		case errors.Is(err, net.ErrClosed):
			_ = m.stop()
			return
		case err != nil:
			time.Sleep(50 * time.Millisecond) // out of file descriptors, as a rule
		default:
			go m.route(&muxConn{limitedConn: conn.(limitedConn)})
		}
	}
}

// recordHandshake is the type of a TLS connection's first record (RFC 8446, 5.1).
const recordHandshake = 22

// route reads one byte. It ends at the latest when the timeout is over or the
// limiter closes the connection.
func (m *tlsMux) route(c *muxConn) {
	_ = c.SetReadDeadline(time.Now().Add(m.timeout))
	n, err := c.limitedConn.Read(c.first[:])
	_ = c.SetReadDeadline(time.Time{})
	if n != 1 || err != nil {
		_ = c.Close()
		return
	}
	to := m.plain
	if c.first[0] == recordHandshake {
		to = m.tls
	}
	select {
	case to <- c:
	case <-m.done:
		_ = c.Close()
	}
}

// muxListener is the listener of one of the two servers.
type muxListener struct {
	*tlsMux
	conns chan net.Conn
}

// Accept waits for a connection to this server.
func (l muxListener) Accept() (net.Conn, error) {
	select {
	case c := <-l.conns:
		return c, nil
	case <-l.done:
		return nil, net.ErrClosed
	}
}

// Close ends both listeners.
func (l muxListener) Close() error { return l.stop() }

// muxConn returns its first byte again.
type muxConn struct {
	limitedConn
	first    [1]byte
	replayed bool
}

func (c *muxConn) Read(b []byte) (int, error) {
	if c.replayed || len(b) == 0 {
		return c.limitedConn.Read(b)
	}
	c.replayed = true
	return copy(b, c.first[:]), nil
}

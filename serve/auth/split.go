package auth

import (
	"context"
	"errors"
	"net"
	"time"
)

// split listens on one port for two servers: who begins with a TLS handshake gets
// the secure one. So an address typed without https:// still leads somewhere.
type split struct {
	net.Listener
	crowd        *crowd
	patience     time.Duration // for the first byte
	secure, bare chan net.Conn
	ended        context.Context // a listener has no context of its own
	end          context.CancelFunc
}

func newSplit(ctx context.Context, l net.Listener, c *crowd, patience time.Duration) *split {
	s := &split{Listener: l, crowd: c, patience: patience, secure: make(chan net.Conn), bare: make(chan net.Conn)}
	s.ended, s.end = context.WithCancel(context.WithoutCancel(ctx))
	go s.run()
	return s
}

// run accepts until the listener is closed.
func (s *split) run() {
	defer s.end()
	for {
		conn, err := s.Listener.Accept()
		switch {
		case errors.Is(err, net.ErrClosed):
			return
		case err != nil:
			time.Sleep(50 * time.Millisecond) // no files left just now, as a rule
		default:
			s.take(conn)
		}
	}
}

// handshake is the first byte of a TLS record that opens a connection (RFC 8446, 5.1).
const handshake = 22

// take counts a connection in the order they come.
func (s *split) take(conn net.Conn) {
	c := &visitor{Conn: conn}
	if c.guest = s.crowd.enter(addrOf(conn.RemoteAddr()), func() { _ = conn.Close() }); c.guest == nil {
		_ = conn.Close()
		return
	}
	go s.sort(c)
}

// sort reads one byte; who does not send it in time is let go.
func (s *split) sort(c *visitor) {
	stop := context.AfterFunc(s.ended, func() { _ = c.Close() })
	_ = c.SetReadDeadline(time.Now().Add(s.patience))
	n, err := c.Conn.Read(c.first[:])
	_ = c.SetReadDeadline(time.Time{})
	if n != 1 || err != nil || !stop() {
		_ = c.Close()
		return
	}
	to := s.bare
	if c.first[0] == handshake {
		to = s.secure
	}
	select {
	case to <- c:
	case <-s.ended.Done():
		_ = c.Close()
	}
}

// Close ends both sides; the second side finds it done.
func (s *split) Close() error {
	if s.ended.Err() != nil {
		return nil
	}
	s.end()
	return s.Listener.Close()
}

// side is one of the two servers' listeners.
type side struct {
	*split
	from chan net.Conn
}

// Accept waits for a connection of this side.
func (s side) Accept() (net.Conn, error) {
	select {
	case c := <-s.from:
		return c, nil
	case <-s.ended.Done():
		return nil, net.ErrClosed
	}
}

// visitor is a connection that gives its first byte back and leaves the crowd
// when it is closed.
type visitor struct {
	net.Conn
	first [1]byte
	given bool // only one reader at a time reads a connection
	guest *guest
}

func (c *visitor) Read(b []byte) (int, error) {
	if c.given || len(b) == 0 {
		return c.Conn.Read(b)
	}
	c.given = true
	return copy(b, c.first[:]), nil
}

// Close closes the connection.
func (c *visitor) Close() error {
	defer c.guest.crowd.leave(c.guest)
	return c.Conn.Close()
}

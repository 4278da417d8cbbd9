package listen

import (
	"context"
	"crypto/tls"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"sync/atomic"
	"time"

	"github.com/hashicorp/golang-lru/v2/simplelru"

	"groundsheet/serve/auth"
)

// maxAdmitted is how many admitted addresses are remembered.
const maxAdmitted = 4096

// connLimiter counts connections, all of them and those of each address. If there are
// too many, the least important one closes: connections of strangers before those of
// admitted addresses, among them those without any request, then the idle ones, the
// oldest first.
type connLimiter struct {
	limits

	mu       sync.Mutex
	open     map[*tracked]bool
	byAddr   map[netip.Addr]int
	admitted *simplelru.LRU[netip.Addr, struct{}]
}

// tracked is a connection as the limiter sees it.
type tracked struct {
	limiter  *connLimiter
	from     netip.Addr // of [auth.LimitAddr]
	close    func()
	used     atomic.Bool // a request came
	running  atomic.Int32
	since    atomic.Int64 // accepted or last idle, in Unix nanoseconds
	admitted atomic.Bool
}

func newConnLimiter(l limits) *connLimiter {
	admitted, _ := simplelru.NewLRU[netip.Addr, struct{}](maxAdmitted, nil) // an error only for a size of 0
	return &connLimiter{
		limits: l, open: map[*tracked]bool{}, byAddr: map[netip.Addr]int{}, admitted: admitted,
	}
}

// add tracks a connection and may close another one for it. nil means that there is no
// room; the caller closes the connection.
func (l *connLimiter) add(from netip.Addr, closeConn func()) *tracked {
	c := &tracked{limiter: l, from: auth.LimitAddr(from), close: closeConn}
	c.since.Store(time.Now().UnixNano())
	l.mu.Lock()
	_, known := l.admitted.Get(c.from)
	c.admitted.Store(known)
	victim, ok := l.makeRoom(c)
	if victim != nil {
		l.remove(victim)
	}
	if ok {
		l.open[c] = true
		l.byAddr[c.from]++
	}
	l.mu.Unlock()
	if victim != nil {
		victim.close()
	}
	if !ok {
		return nil
	}
	return c
}

// makeRoom picks the connection to close for c, nil if none needs to.
func (l *connLimiter) makeRoom(c *tracked) (victim *tracked, ok bool) {
	var candidate func(*tracked) bool
	switch strangersMax := l.conns - l.connsReserved; {
	case c.from.IsValid() && l.byAddr[c.from] >= l.connsPerAddr*auth.PhonesAt(c.from):
		candidate = func(other *tracked) bool { return other.from == c.from }
	case !c.admitted.Load() && len(l.open) >= strangersMax && l.strangers() >= strangersMax:
		candidate = func(other *tracked) bool { return !other.admitted.Load() }
	case len(l.open) >= l.conns:
		candidate = func(*tracked) bool { return true }
	default:
		return nil, true
	}
	lowest := maxRank
	for other := range l.open {
		if !candidate(other) {
			continue
		}
		if r := other.rank(); r < lowest || r == lowest && victim != nil && other.since.Load() < victim.since.Load() {
			victim, lowest = other, r
		}
	}
	return victim, victim != nil
}

func (l *connLimiter) strangers() (n int) {
	for c := range l.open {
		if !c.admitted.Load() {
			n++
		}
	}
	return n
}

// maxRank is the rank of a connection that never closes for another: an admitted phone
// waits for a response on it.
const maxRank = 5

// rank is the importance of a connection.
func (c *tracked) rank() int {
	r := 0
	switch {
	case c.running.Load() > 0:
		r = 2
	case c.used.Load():
		r = 1
	}
	if c.admitted.Load() {
		r += 3
	}
	return r
}

// remove needs the lock.
func (l *connLimiter) remove(c *tracked) {
	if !l.open[c] {
		return
	}
	delete(l.open, c)
	if l.byAddr[c.from]--; l.byAddr[c.from] <= 0 {
		delete(l.byAddr, c.from)
	}
}

func (c *tracked) remove() {
	c.limiter.mu.Lock()
	defer c.limiter.mu.Unlock()
	c.limiter.remove(c)
}

// admit marks the connections of an address whose sender was admitted.
func (c *tracked) admit() {
	if c.admitted.Load() {
		return
	}
	l := c.limiter
	l.mu.Lock()
	defer l.mu.Unlock()
	l.admitted.Add(c.from, struct{}{})
	for other := range l.open {
		if other.from == c.from {
			other.admitted.Store(true)
		}
	}
}

// closeAll closes every connection.
func (l *connLimiter) closeAll() {
	l.mu.Lock()
	defer l.mu.Unlock()
	for c := range l.open {
		c.close()
	}
}

// limitListener accepts the TCP connections that its limiter has room for.
type limitListener struct {
	net.Listener
	limiter *connLimiter
}

// limitedConn is untracked when it closes.
type limitedConn struct {
	*net.TCPConn
	*tracked
}

// Accept waits for a connection. Those without room are closed before anything is read.
func (l limitListener) Accept() (net.Conn, error) {
	for {
		conn, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		tcp := conn.(*net.TCPConn)
		if t := l.limiter.add(auth.AddrOf(tcp.RemoteAddr()), func() { _ = tcp.Close() }); t != nil {
			return limitedConn{tcp, t}, nil
		}
		_ = tcp.Close()
	}
}

// Close closes the connection.
func (c limitedConn) Close() error {
	c.remove()
	return c.TCPConn.Close()
}

// entry gives wrappers of a connection access to it.
func (c *tracked) entry() *tracked { return c }

type trackedKey struct{}

// connContext is for [http.Server]: requests carry their connection.
func connContext(ctx context.Context, conn net.Conn) context.Context {
	if secure, ok := conn.(*tls.Conn); ok {
		conn = secure.NetConn()
	}
	return context.WithValue(ctx, trackedKey{}, conn.(interface{ entry() *tracked }).entry())
}

// admit marks the connection of a request that was admitted.
func admit(r *http.Request) { trackedOf(r).admit() }

func trackedOf(r *http.Request) *tracked { return r.Context().Value(trackedKey{}).(*tracked) }

// counting counts the running requests of each connection.
func counting(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c := trackedOf(r)
		c.used.Store(true)
		c.running.Add(1)
		defer func() {
			c.since.Store(time.Now().UnixNano())
			c.running.Add(-1)
		}()
		h.ServeHTTP(w, r)
	})
}

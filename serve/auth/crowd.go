package auth

import (
	"context"
	"crypto/tls"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"sync/atomic"
	"time"
)

// How many connections there may be. A browser has six to a server; a machine of
// somebody who means harm must not take the places of the crew.
const (
	mostConns     = 1000
	keptConns     = 250 // of them, for addresses that are in
	mostConnsEach = 48
)

// crowd counts connections, all and by address. When there are too many, the
// connection nobody misses goes: strangers' before those of phones that are in, and
// of each those that never asked anything, then those that rest, the oldest first.
type crowd struct {
	most, kept, each int

	mu     sync.Mutex
	guests map[*guest]bool
	by     map[netip.Addr]int
	in     map[netip.Addr]time.Time // addresses that are in, and when they connected last
	conns  map[net.Conn]*guest      // of a server that has no listener of its own here
}

// mostIn is how many addresses that are in are known.
const mostIn = 4096

// guest is one connection.
type guest struct {
	crowd   *crowd
	from    netip.Addr // as [counted] gives it
	end     func()     // closes the connection
	asked   atomic.Bool
	running atomic.Int32 // requests
	since   atomic.Int64 // when it came or began to rest, in nanoseconds since 1970
	in      atomic.Bool
}

func newCrowd(l limits) *crowd {
	return &crowd{
		most: l.conns, kept: l.connsKept, each: l.connsEach,
		guests: map[*guest]bool{}, by: map[netip.Addr]int{}, in: map[netip.Addr]time.Time{}, conns: map[net.Conn]*guest{},
	}
}

// enter lets a connection in, which may cost another one its place. nil: there is no
// room, and the connection is to be closed.
func (c *crowd) enter(from netip.Addr, end func()) *guest {
	g := &guest{crowd: c, from: counted(from), end: end}
	g.since.Store(time.Now().UnixNano())
	c.mu.Lock()
	_, in := c.in[g.from]
	g.in.Store(in)
	out, ok := c.makeRoom(g)
	if out != nil {
		c.remove(out)
	}
	if ok {
		c.guests[g] = true
		c.by[g.from]++
		if in {
			c.in[g.from] = time.Now()
		}
	}
	c.mu.Unlock()
	if out != nil {
		out.end()
	}
	if !ok {
		return nil
	}
	return g
}

// makeRoom finds the connection that goes for another one; none need go as a rule.
func (c *crowd) makeRoom(g *guest) (out *guest, ok bool) {
	all := len(c.guests)
	var among func(*guest) bool
	switch {
	case g.from.IsValid() && c.by[g.from] >= c.each*shares(g.from):
		among = func(other *guest) bool { return other.from == g.from }
	case !g.in.Load() && all >= c.most-c.kept && c.strangers() >= c.most-c.kept:
		among = func(other *guest) bool { return !other.in.Load() }
	case all >= c.most:
		among = func(*guest) bool { return true }
	default:
		return nil, true
	}
	best := needed
	for other := range c.guests {
		if !among(other) {
			continue
		}
		if r := other.rank(); r < best || r == best && out != nil && other.since.Load() < out.since.Load() {
			out, best = other, r
		}
	}
	return out, out != nil
}

func (c *crowd) strangers() (n int) {
	for g := range c.guests {
		if !g.in.Load() {
			n++
		}
	}
	return n
}

// needed is the rank of a connection that stays: a phone that is in waits for an
// answer on it.
const needed = 5

// rank says how much a connection is missed.
func (g *guest) rank() int {
	r := 0
	switch {
	case g.running.Load() > 0:
		r = 2
	case g.asked.Load():
		r = 1
	}
	if g.in.Load() {
		r += 3
	}
	return r
}

func (c *crowd) leave(g *guest) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.remove(g)
}

func (c *crowd) remove(g *guest) {
	if !c.guests[g] {
		return
	}
	delete(c.guests, g)
	if c.by[g.from]--; c.by[g.from] <= 0 {
		delete(c.by, g.from)
	}
}

// welcome notes that the sender at the other end is in.
func (g *guest) welcome() {
	if g.in.Load() {
		return
	}
	c := g.crowd
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, known := c.in[g.from]; !known && len(c.in) >= mostIn {
		oldest, at := g.from, time.Now()
		for a, last := range c.in {
			if last.Before(at) {
				oldest, at = a, last
			}
		}
		delete(c.in, oldest)
	}
	c.in[g.from] = time.Now()
	for other := range c.guests {
		if other.from == g.from {
			other.in.Store(true)
		}
	}
}

type guestKey struct{}

func guestOf(r *http.Request) *guest {
	g, _ := r.Context().Value(guestKey{}).(*guest)
	return g
}

// context is an http.Server's ConnContext. A connection too many is closed before
// anything is read from it.
func (c *crowd) context(ctx context.Context, conn net.Conn) context.Context {
	if secure, ok := conn.(*tls.Conn); ok {
		conn = secure.NetConn()
	}
	var g *guest
	if known, ok := conn.(*visitor); ok {
		g = known.guest
	} else if g = c.enter(addrOf(conn.RemoteAddr()), func() { _ = conn.Close() }); g != nil {
		c.mu.Lock()
		c.conns[conn] = g
		c.mu.Unlock()
	} else {
		_ = conn.Close() // the server finds it closed
	}
	return context.WithValue(ctx, guestKey{}, g)
}

// watch is an http.Server's ConnState.
func (c *crowd) watch(conn net.Conn, s http.ConnState) {
	if s != http.StateClosed && s != http.StateHijacked {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if g := c.conns[conn]; g != nil {
		c.remove(g)
		delete(c.conns, conn)
	}
}

// counting notes for each connection what it asks. With open, whoever asks is in.
func (c *crowd) counting(h http.Handler, open bool) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		g := guestOf(r)
		if g == nil { // it is being closed
			return
		}
		if open {
			g.welcome()
		}
		g.asked.Store(true)
		g.running.Add(1)
		defer func() {
			g.since.Store(time.Now().UnixNano())
			g.running.Add(-1)
		}()
		h.ServeHTTP(w, r)
	})
}

package gate

import (
	"net"
	"net/http"
	"net/netip"
	"sync"
)

// How many connections there may be. A browser has six to a server; a machine of
// somebody who means harm must not take the places of the crew.
const (
	mostConns     = 1000
	mostConnsEach = 48
)

// crowd counts connections, all and by address. Connections from this machine
// itself count only among all.
type crowd struct {
	most, each int

	mu  sync.Mutex
	all int
	by  map[netip.Addr]int
}

func newCrowd(l limits) *crowd {
	return &crowd{most: l.conns, each: l.connsEach, by: map[netip.Addr]int{}}
}

// enter counts one more and tells whether there is room for it. It has to
// leave either way.
func (c *crowd) enter(from netip.Addr) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.all++
	c.by[from]++
	return c.all <= c.most && (c.by[from] <= c.each || from.IsLoopback())
}

func (c *crowd) leave(from netip.Addr) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.all--
	if c.by[from]--; c.by[from] <= 0 {
		delete(c.by, from)
	}
}

// watch is an http.Server's ConnState: a connection too many is closed before
// anything is read from it.
func (c *crowd) watch(conn net.Conn, s http.ConnState) {
	switch s {
	case http.StateNew:
		if !c.enter(addrOf(conn.RemoteAddr())) {
			_ = conn.Close() // the server finds it closed
		}
	case http.StateClosed, http.StateHijacked:
		c.leave(addrOf(conn.RemoteAddr()))
	}
}

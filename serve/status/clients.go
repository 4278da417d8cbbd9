package status

import (
	"maps"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// clientPeriod is how long after its latest request a client counts as present.
const clientPeriod = 10 * time.Minute

// maxClients bounds how many addresses are kept.
const maxClients = 4096

// Clients counts the addresses of which requests came lately. It never lists them.
type Clients struct {
	now    func() time.Time
	mu     sync.RWMutex
	latest map[netip.Addr]time.Time
}

// NewClients makes an empty count.
func NewClients(now func() time.Time) *Clients {
	return &Clients{now: now, latest: map[netip.Addr]time.Time{}}
}

// Record counts the sender of a request.
func (c *Clients) Record(r *http.Request) {
	at, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return // not over the network
	}
	now := c.now()
	c.mu.RLock()
	latest, known := c.latest[at.Addr()]
	c.mu.RUnlock()
	if known && now.Sub(latest) < time.Second && !now.Before(latest) {
		return // recent enough: a phone asks for many tiles in a second
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.latest) >= maxClients {
		c.expire(now)
	}
	if _, known := c.latest[at.Addr()]; known || len(c.latest) < maxClients {
		c.latest[at.Addr()] = now
	}
}

// expire drops clients that are not present any more. The caller holds the lock.
func (c *Clients) expire(now time.Time) {
	maps.DeleteFunc(c.latest, func(_ netip.Addr, at time.Time) bool { return now.Sub(at) > clientPeriod })
}

// count is the number of clients, and when the latest request came.
func (c *Clients) count() (n int, latest time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.expire(c.now())
	for _, at := range c.latest {
		if at.After(latest) {
			latest = at
		}
	}
	return len(c.latest), latest
}

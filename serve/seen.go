package serve

import (
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// lately is how long after its latest request a client counts as there.
const lately = 10 * time.Minute

// mostSeen bounds how many addresses are kept.
const mostSeen = 4096

// seen knows which addresses asked lately. It tells how many, never which.
type seen struct {
	now  func() time.Time
	mu   sync.RWMutex
	last map[netip.Addr]time.Time
}

func (s *seen) note(r *http.Request) {
	at, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return // not over the network
	}
	now := s.now()
	s.mu.RLock()
	last, known := s.last[at.Addr()]
	s.mu.RUnlock()
	if known && now.Sub(last) < time.Second && !now.Before(last) {
		return // near enough: a phone asks for many tiles in a second
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if _, known := s.last[at.Addr()]; !known && len(s.last) >= mostSeen {
		if s.forget(now); len(s.last) >= mostSeen {
			return
		}
	}
	s.last[at.Addr()] = now
}

// forget drops those that did not ask lately. The caller holds the lock.
func (s *seen) forget(now time.Time) {
	for addr, last := range s.last {
		if now.Sub(last) > lately {
			delete(s.last, addr)
		}
	}
}

// count is how many asked lately, and when the latest request was.
func (s *seen) count() (n int, latest time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forget(s.now())
	for _, last := range s.last {
		if last.After(latest) {
			latest = last
		}
	}
	return len(s.last), latest
}

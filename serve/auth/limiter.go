package auth

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// ConcurrencyLimiter bounds how much runs at once for one phone. Make it with [NewLimiter].
type ConcurrencyLimiter struct {
	session, address, queue int
	wait                    time.Duration

	mu    sync.Mutex
	slots map[LimitKey]*slots
}

// slots are the running and waiting calls of one key.
type slots struct {
	running chan struct{} // a semaphore; Go wakes its senders in the order they came
	calls   int           // running and waiting
}

// NewLimiter allows so many calls at once for a session and for each phone at an
// address. As many as queue more wait, no longer than wait.
func NewLimiter(session, address, queue int, wait time.Duration) *ConcurrencyLimiter {
	return &ConcurrencyLimiter{session: session, address: address, queue: queue, wait: wait, slots: map[LimitKey]*slots{}}
}

// Acquire waits for a slot; a nil phone has no limit. release may be called more than
// once. ok is false if the queue is full, the wait is over, or ctx ends.
func (l *ConcurrencyLimiter) Acquire(ctx context.Context, p *Phone) (release func(), ok bool) {
	keys := p.LimitKeys()
	for i, k := range keys {
		if !l.enter(ctx, k) {
			l.leave(keys[:i])
			return func() {}, false
		}
	}
	return sync.OnceFunc(func() { l.leave(keys) }), true
}

func (l *ConcurrencyLimiter) enter(ctx context.Context, k LimitKey) bool {
	s := l.join(k)
	if s == nil {
		return false
	}
	select {
	case s.running <- struct{}{}:
		return true
	default:
	}
	ctx, cancel := context.WithTimeout(ctx, l.wait)
	defer cancel()
	select {
	case s.running <- struct{}{}:
		return true
	case <-ctx.Done():
		l.mu.Lock()
		defer l.mu.Unlock()
		l.quit(k, s)
		return false
	}
}

// join adds a call to those of its key; nil if too many wait already.
func (l *ConcurrencyLimiter) join(k LimitKey) *slots {
	l.mu.Lock()
	defer l.mu.Unlock()
	s := l.slots[k]
	if s == nil {
		most := l.session
		if k.IsAddr {
			most = l.address * k.Phones
		}
		s = &slots{running: make(chan struct{}, most)}
		l.slots[k] = s
	}
	if s.calls >= cap(s.running)+l.queue {
		return nil
	}
	s.calls++
	return s
}

func (l *ConcurrencyLimiter) quit(k LimitKey, s *slots) {
	if s.calls--; s.calls == 0 {
		delete(l.slots, k)
	}
}

func (l *ConcurrencyLimiter) leave(keys []LimitKey) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, k := range keys {
		s := l.slots[k]
		<-s.running
		l.quit(k, s)
	}
}

// LimitAddr returns the address that limits count a sender by. An IPv6 address
// stands for its /64, in which one machine may have as many as it likes. Loopback has
// no limit and returns the invalid address: everybody who comes by a tunnel has it.
func LimitAddr(from netip.Addr) netip.Addr {
	switch {
	case from == netip.AddrFrom4([4]byte{127, 0, 0, 1}) || from == netip.IPv6Loopback():
		return netip.Addr{}
	case from.Is6():
		return netip.PrefixFrom(from, 64).Masked().Addr()
	}
	return from
}

// PhonesAt returns how many phones one address of [LimitAddr] stands for: all
// phones of a hotspot share one /64. The project's own choice, no source.
func PhonesAt(from netip.Addr) int {
	if from.Is6() {
		return 8
	}
	return 1
}

// Phone is the sender of a request, as far as limits go.
type Phone struct {
	session sessionID  // zero: without session, the code comes with each request
	addr    netip.Addr // of [LimitAddr]
	release func()
}

// grant is what an admitted request carries in its context.
type grant struct {
	role  Role
	phone *Phone // nil if the handler is open
}

type grantKey struct{}

func withGrant(r *http.Request, g *grant) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), grantKey{}, g))
}

func grantOf(r *http.Request) grant {
	if g, ok := r.Context().Value(grantKey{}).(*grant); ok {
		return *g
	}
	return grant{}
}

// RoleOf returns the role of the sender; [Nobody] if the request passed no [Handler].
func RoleOf(r *http.Request) Role { return grantOf(r).role }

// PhoneOf returns the sender of a request; nil, which has no limits, if the request
// passed an open [Handler] or none.
func PhoneOf(r *http.Request) *Phone { return grantOf(r).phone }

// Release frees the phone's slot for running requests before the request ends. It is
// for requests that last long and cost little, such as streams.
func (p *Phone) Release() {
	if p != nil {
		p.release()
	}
}

// Name names the session of a phone, for the book of what it sent; "" for one without. No
// token can be made of it.
func (p *Phone) Name() string {
	if p == nil || p.session == (sessionID{}) {
		return ""
	}
	sum := sha256.Sum256(p.session[:])
	return hex.EncodeToString(sum[:8])
}

// LimitKey is a session or an address that limits count by. It is comparable.
type LimitKey struct {
	id     [16]byte
	IsAddr bool // an address, else a session
	Phones int  // how many phones it may stand for
}

// LimitKeys returns what a phone is counted by: its session, and its address, which other
// sessions may share.
func (p *Phone) LimitKeys() []LimitKey {
	if p == nil {
		return nil
	}
	keys := make([]LimitKey, 0, 2)
	if p.session != (sessionID{}) {
		keys = append(keys, LimitKey{p.session, false, 1})
	}
	if p.addr.IsValid() {
		keys = append(keys, LimitKey{p.addr.As16(), true, PhonesAt(p.addr)})
	}
	return keys
}

package auth

import (
	"context"
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

package auth

import (
	"context"
	"slices"
	"sync"
	"time"
)

// Turns bounds how much runs at once for one phone. Make it with [NewTurns].
type Turns struct {
	session, address, waiting int
	patience                  time.Duration

	mu    sync.Mutex
	lines map[Share]*line
}

// line is what runs and waits for one session or address.
type line struct {
	running int
	waiting []chan struct{} // each is closed when its turn comes
}

// NewTurns bounds to so many at once for a session, and for an address. So many
// more may wait, for as long as patience says.
func NewTurns(session, address, waiting int, patience time.Duration) *Turns {
	return &Turns{session: session, address: address, waiting: waiting, patience: patience, lines: map[Share]*line{}}
}

// Take waits for a place. done gives it back; it may be called more than once. ok is
// false when too many wait already, or this one waited too long, or ctx ended.
func (t *Turns) Take(ctx context.Context, p *Phone) (done func(), ok bool) {
	shares := p.Shares()
	if len(shares) == 0 {
		return func() {}, true
	}
	for i, s := range shares {
		if !t.enter(ctx, s) {
			t.leave(shares[:i])
			return func() {}, false
		}
	}
	var once sync.Once
	return func() { once.Do(func() { t.leave(shares) }) }, true
}

func (t *Turns) enter(ctx context.Context, s Share) bool {
	most := t.session
	if s.address {
		most = t.address * s.Phones
	}
	t.mu.Lock()
	l := t.lines[s]
	if l == nil {
		l = &line{}
		t.lines[s] = l
	}
	if l.running < most {
		l.running++
		t.mu.Unlock()
		return true
	}
	if len(l.waiting) >= t.waiting {
		t.mu.Unlock()
		return false
	}
	turn := make(chan struct{})
	l.waiting = append(l.waiting, turn)
	t.mu.Unlock()
	late := time.NewTimer(t.patience)
	defer late.Stop()
	select {
	case <-turn:
		return true
	case <-ctx.Done():
	case <-late.C:
	}
	return !t.giveUp(l, turn)
}

// giveUp stops waiting; false when the turn has just come.
func (t *Turns) giveUp(l *line, turn chan struct{}) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	at := slices.Index(l.waiting, turn)
	if at >= 0 {
		l.waiting = slices.Delete(l.waiting, at, at+1)
	}
	return at >= 0
}

// leave passes places on to those who waited longest.
func (t *Turns) leave(shares []Share) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, s := range shares {
		l := t.lines[s]
		if len(l.waiting) > 0 {
			close(l.waiting[0])
			l.waiting = l.waiting[1:]
			continue
		}
		if l.running--; l.running == 0 {
			delete(t.lines, s)
		}
	}
}

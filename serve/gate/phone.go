package gate

import (
	"context"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// counted is an address as things are counted by it: an IPv6 address stands for its
// /64, of which one machine may have as many as it likes. This machine's own address is
// not counted, and comes out invalid: whoever comes by a tunnel has it too.
func counted(from netip.Addr) netip.Addr {
	switch {
	case from == netip.AddrFrom4([4]byte{127, 0, 0, 1}) || from == netip.IPv6Loopback():
		return netip.Addr{}
	case from.Is6():
		return net64(from).Addr()
	}
	return from
}

// shares is how many phones one counted address stands for: all phones of a hotspot
// are in one /64. The project's own choice, no source.
func shares(from netip.Addr) int {
	if from.Is6() {
		return 8
	}
	return 1
}

// Phone is who sent a request, as far as limits go.
type Phone struct {
	session [16]byte // zero: it joined not, and says the code with each request
	from    netip.Addr
	release func()
}

// visit is what a request carries behind the gate.
type visit struct {
	role  Role
	phone *Phone // nil on an open gate
}

type visitKey struct{}

func visitOf(r *http.Request) *visit {
	v, _ := r.Context().Value(visitKey{}).(*visit)
	return v
}

// PhoneOf tells who sent a request; nil when it came by no gate or an open one, where
// no phone has limits of its own.
func PhoneOf(r *http.Request) *Phone {
	if v := visitOf(r); v != nil {
		return v.phone
	}
	return nil
}

// Lasting says that the request goes on for long and works little, such as a stream:
// it gives its place among the running requests of its phone back.
func (p *Phone) Lasting() {
	if p != nil {
		p.release()
	}
}

// Share is a session or an address, and how many phones it may stand for. It can be
// the key of a map.
type Share struct {
	id      [16]byte
	address bool
	Phones  int
}

// ByAddress tells an address from a session.
func (s Share) ByAddress() bool { return s.address }

// Shares are what a phone is counted by: its session, and its address, which
// other sessions may have too.
func (p *Phone) Shares() []Share {
	if p == nil {
		return nil
	}
	all := make([]Share, 0, 2)
	if p.session != [16]byte{} {
		all = append(all, Share{p.session, false, 1})
	}
	if p.from.IsValid() {
		all = append(all, Share{p.from.As16(), true, shares(p.from)})
	}
	return all
}

// Turns bounds how much runs at once for one phone. Make it with [NewTurns].
type Turns struct {
	session, address, waiting int
	patience                  time.Duration

	mu    sync.Mutex
	lines map[Share]*line
}

// line is what runs and waits for one session or address.
type line struct {
	places chan struct{}
	users  int
}

// NewTurns bounds to so many at once for a session, and for an address. So many
// more may wait, for as long as patience says.
func NewTurns(session, address, waiting int, patience time.Duration) *Turns {
	return &Turns{session: session, address: address, waiting: waiting, patience: patience, lines: map[Share]*line{}}
}

// Take waits for a place. done gives it back, which may be called more than once. ok is false when
// too many wait already, or this one waited too long, or ctx ended.
func (t *Turns) Take(ctx context.Context, p *Phone) (done func(), ok bool) {
	var held []func()
	done = sync.OnceFunc(func() {
		for _, give := range held {
			give()
		}
	})
	for _, s := range p.Shares() {
		give, ok := t.one(ctx, s)
		if !ok {
			done()
			return done, false
		}
		held = append(held, give)
	}
	return done, true
}

func (t *Turns) one(ctx context.Context, s Share) (give func(), ok bool) {
	most := t.session
	if s.address {
		most = t.address * s.Phones
	}
	t.mu.Lock()
	l := t.lines[s]
	if l == nil {
		l = &line{places: make(chan struct{}, most)}
		t.lines[s] = l
	}
	if l.users >= most+t.waiting {
		t.mu.Unlock()
		return nil, false
	}
	l.users++
	t.mu.Unlock()
	leave := func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		if l.users--; l.users == 0 {
			delete(t.lines, s)
		}
	}
	select {
	case l.places <- struct{}{}:
		return func() { <-l.places; leave() }, true
	default:
	}
	late := time.NewTimer(t.patience)
	defer late.Stop()
	select {
	case l.places <- struct{}{}:
		return func() { <-l.places; leave() }, true
	case <-ctx.Done():
	case <-late.C:
	}
	leave()
	return nil, false
}

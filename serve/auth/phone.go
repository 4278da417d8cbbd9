package auth

import (
	"context"
	"net/http"
	"net/netip"
)

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

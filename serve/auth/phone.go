package auth

import (
	"net/http"
	"net/netip"
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

package announce

import (
	"context"
	"net/netip"
	"slices"
	"time"

	"github.com/pion/mdns/v2"
	"golang.org/x/net/ipv4"
)

// probing is how long others are waited for before a name counts as free: three
// times 250 ms (RFC 6762, 8.1).
const probing = 750 * time.Millisecond

// Taken asks the network whether another machine answers to a name already; by
// is its address. Without a network no name is taken.
func Taken(ctx context.Context, name string) (by netip.Addr, taken bool) {
	l, err := listen()
	if err != nil {
		return by, false
	}
	conn, err := mdns.NewServer(ipv4.NewPacketConn(l), nil, mdns.WithQueryInterval(probing/3))
	if err != nil {
		_ = l.Close() // nothing can be asked
		return by, false
	}
	defer conn.Close() //nolint:errcheck // it was only asked
	ctx, cancel := context.WithTimeout(ctx, probing)
	defer cancel()
	_, by, err = conn.QueryAddr(ctx, name+".local")
	return by, err == nil && !own(by)
}

// own tells whether an address is one of this machine's.
func own(a netip.Addr) bool {
	return slices.ContainsFunc(networks(), func(n string) bool {
		p, err := netip.ParsePrefix(n)
		return err == nil && p.Addr().Unmap() == a.Unmap().WithZone("")
	})
}

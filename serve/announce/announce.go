// Package announce makes a server known on its own network by a name that ends in
// .local (multicast DNS, RFC 6762), also to phones that ask in the plain way of
// section 6.7. Not every phone knows such names, and a network may hold them back,
// so a name never stands in for the address with numbers.
//
// [Taken] asks whether a name is free (section 8.1). Two servers that begin at the same
// moment, or on networks that meet later, both keep it: phones get to either of
// them, and its code lets them in nowhere else.
package announce

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"slices"
	"strings"
	"time"

	"github.com/pion/mdns/v2"
	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
)

// Options of an announcement.
type Options struct {
	Name string     // one label, without .local
	Addr netip.Addr // what the server listens on; unspecified = each network hears its own address
}

// Valid tells whether a name can be announced: letters, digits and hyphens, at
// most 63 (RFC 1123, 2.1).
func Valid(name string) bool {
	sign := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-'
	}
	return name != "" && len(name) <= 63 && !strings.HasPrefix(name, "-") && !strings.HasSuffix(name, "-") &&
		!strings.ContainsFunc(name, func(r rune) bool { return !sign(r) })
}

// lookEvery is how often the machine's networks are compared: a hotspot may come
// up after the server.
const lookEvery = 10 * time.Second

// keep is how long an answer holds. Section 6.7 asks for at most this of plain askers;
// section 10 would have 120 s for the others, and the library has one number for all.
const keep = 10 // seconds

// Start answers questions for the name until stop is called. The error says why
// nothing can be announced here.
func Start(o Options) (stop func(), err error) {
	if !Valid(o.Name) {
		return nil, fmt.Errorf("%q is no name for a network: letters, digits and hyphens, at most 63", o.Name)
	}
	conn, err := answer(o)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		defer close(done)
		follow(ctx, o, conn)
	}()
	return func() { cancel(); <-done }, nil
}

// follow begins anew when the machine's networks change, and closes at the end.
func follow(ctx context.Context, o Options, conn *mdns.Conn) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	known := networks()
	for {
		select {
		case <-ctx.Done():
			if conn != nil {
				_ = conn.Close() // it ends either way
			}
			return
		case <-tick.C:
		}
		now := networks()
		if slices.Equal(now, known) && conn != nil {
			continue
		}
		if conn != nil {
			_ = conn.Close() // a new one follows
		}
		conn, _ = answer(o) // no network just now: the next tick tries again
		known = now
	}
}

func answer(o Options) (*mdns.Conn, error) {
	l, err := listen()
	if err != nil {
		return nil, err
	}
	set := []mdns.ServerOption{
		mdns.WithLocalNames(o.Name + ".local"), mdns.WithCacheRefresh(false),
		mdns.WithRecordTypes(dnsmessage.TypeA, dnsmessage.TypeAAAA), mdns.WithResponseTTL(keep),
	}
	if o.Addr.IsValid() && !o.Addr.IsUnspecified() {
		set = append(set, mdns.WithLocalAddress(o.Addr.AsSlice()))
	}
	conn, err := mdns.NewServer(ipv4.NewPacketConn(l), nil, set...)
	if err != nil {
		_ = l.Close() // told by err
		return nil, err
	}
	return conn, nil
}

func listen() (*net.UDPConn, error) {
	at, err := net.ResolveUDPAddr("udp4", mdns.DefaultAddressIPv4)
	if err != nil {
		return nil, err
	}
	return net.ListenUDP("udp4", at)
}

// networks is every address of the machine, sorted.
func networks() []string {
	found, _ := net.InterfaceAddrs() // none is an answer too
	all := make([]string, 0, len(found))
	for _, a := range found {
		all = append(all, a.String())
	}
	slices.Sort(all)
	return all
}

// Package announce makes a server known on its own network by a name that ends in
// .local (multicast DNS, RFC 6762), also to phones that send legacy unicast queries
// (section 6.7). Not every phone knows such names, and a network may block them,
// so a name never replaces the numeric address.
//
// [Taken] probes for a name (section 8.1). Two servers that start at the same
// moment, or on networks that meet later, both keep it: phones reach either of
// them, and the code of one admits nobody to the other.
package announce

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"regexp"
	"slices"
	"sync"
	"time"

	"github.com/pion/mdns/v2"
	"golang.org/x/net/dns/dnsmessage"
	"golang.org/x/net/ipv4"
)

// label is one label of a host name (RFC 1123, 2.1).
var label = regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?$`)

// Valid reports whether a name, without .local, can be announced: letters, digits
// and inner hyphens, at most 63.
func Valid(name string) bool { return label.MatchString(name) }

// checkEvery is how often the machine's networks are compared: a hotspot may come
// up after the server.
const checkEvery = 10 * time.Second

// ttl of a response in seconds. Section 6.7 allows at most this for legacy queries;
// section 10 recommends 120 s for the others, but the library has one setting for all.
const ttl = 10

// probeTime is how long [Taken] waits: three times 250 ms (section 8.1).
const probeTime = 750 * time.Millisecond

// Start answers queries for name.local until stop is called. addr is what the server
// listens on; if it is unspecified, each network gets its own address. The error
// says why nothing can be announced.
func Start(name string, addr netip.Addr) (stop func(), err error) {
	if !Valid(name) {
		return nil, fmt.Errorf("%q is no name for a network: letters, digits and hyphens, at most 63", name)
	}
	options := []mdns.ServerOption{
		mdns.WithLocalNames(name + ".local"), mdns.WithCacheRefresh(false),
		mdns.WithRecordTypes(dnsmessage.TypeA, dnsmessage.TypeAAAA), mdns.WithResponseTTL(ttl),
	}
	if addr.IsValid() && !addr.IsUnspecified() {
		options = append(options, mdns.WithLocalAddress(addr.AsSlice()))
	}
	conn, err := open(options...)
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(context.Background())
	var responder sync.WaitGroup
	responder.Go(func() { respond(ctx, conn, options) })
	return func() { cancel(); responder.Wait() }, nil
}

// respond reopens the connection when the machine's networks change, until ctx ends.
func respond(ctx context.Context, conn *mdns.Conn, options []mdns.ServerOption) {
	tick := time.NewTicker(checkEvery)
	defer tick.Stop()
	for known := networks(); ; {
		select {
		case <-ctx.Done():
		case <-tick.C:
			current := networks()
			if conn != nil && slices.Equal(current, known) {
				continue
			}
			known = current
		}
		if conn != nil {
			_ = conn.Close()
		}
		if ctx.Err() != nil {
			return
		}
		conn, _ = open(options...) // without a network, the next tick tries again
	}
}

// Taken asks the network whether another machine answers to a name; by is its
// address. Without a network no name is taken.
func Taken(ctx context.Context, name string) (by netip.Addr, taken bool) {
	conn, err := open(mdns.WithQueryInterval(probeTime / 3))
	if err != nil {
		return by, false
	}
	defer conn.Close() //nolint:errcheck // nothing was written
	ctx, cancel := context.WithTimeout(ctx, probeTime)
	defer cancel()
	_, by, err = conn.QueryAddr(ctx, name+".local")
	return by, err == nil && !isOwn(by)
}

func open(options ...mdns.ServerOption) (*mdns.Conn, error) {
	group, err := net.ResolveUDPAddr("udp4", mdns.DefaultAddressIPv4)
	if err != nil {
		return nil, err
	}
	udp, err := net.ListenUDP("udp4", group)
	if err != nil {
		return nil, err
	}
	conn, err := mdns.NewServer(ipv4.NewPacketConn(udp), nil, options...)
	if err != nil {
		_ = udp.Close()
		return nil, err
	}
	return conn, nil
}

// networks returns the addresses of the machine with their networks, sorted.
func networks() (all []string) {
	found, _ := net.InterfaceAddrs() // none if it fails
	for _, a := range found {
		all = append(all, a.String())
	}
	slices.Sort(all)
	return all
}

func isOwn(a netip.Addr) bool {
	return slices.ContainsFunc(networks(), func(n string) bool {
		p, err := netip.ParsePrefix(n)
		return err == nil && p.Addr().Unmap() == a.Unmap().WithZone("")
	})
}

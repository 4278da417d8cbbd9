package main

import (
	"cmp"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"groundsheet/tiles/words"
)

// address is what a phone can type, and what is known of the way there.
type address struct {
	host string // with its port
	of   string // name of the network interface; "" = not told
	kind addressKind
}

// addressKind is what an address most likely is for, the likeliest first.
type addressKind int

const (
	onHotspot  addressKind = iota // this laptop's own wireless network
	firstOfNet                    // the first address of some network
	onWireless                    // a wireless network, perhaps somebody else's
	onNetwork
	onSelfMade // no network gave it
	inside     // networks that only programs on this computer use, or that are down
	onLoopback
)

// about names the interface, and what is known of it.
func (a address) about() string {
	switch {
	case a.of == "":
		return ""
	case a.kind == onHotspot:
		return words.Say("address.hotspot", "interface", a.of)
	case a.kind == onWireless:
		return words.Say("address.wireless", "interface", a.of)
	case a.kind == onLoopback:
		return words.Say("address.loopback", "interface", a.of)
	}
	return words.Say("address.other", "interface", a.of)
}

// addresses are what a phone can type: for a server on all interfaces, each
// address of this machine, the one of a hotspot first.
func addresses(addr net.Addr) []address {
	alone := []address{{host: addr.String()}}
	tcp, ok := addr.(*net.TCPAddr)
	if !ok || !tcp.IP.IsUnspecified() {
		return alone
	}
	interfaces, err := net.Interfaces()
	if err != nil {
		return alone
	}
	var all []address
	for _, i := range interfaces {
		of, err := i.Addrs()
		if err != nil || i.Flags&net.FlagUp == 0 {
			continue
		}
		for _, a := range of {
			if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil {
				all = append(all, address{net.JoinHostPort(n.IP.String(), fmt.Sprint(tcp.Port)), i.Name, kindOf(i, n, wireless(i.Name))})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b address) int { return cmp.Compare(a.kind, b.kind) })
	return all
}

// kindOf says what an address is for, from common practice: who opens a hotspot
// has the first address of its private network, and networks that only programs
// on this machine use have known names.
func kindOf(i net.Interface, n *net.IPNet, wireless bool) addressKind {
	inner := slices.ContainsFunc([]string{"docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "tun", "tap", "utun"},
		func(start string) bool { return strings.HasPrefix(i.Name, start) })
	ip, base := n.IP.To4(), n.IP.Mask(n.Mask).To4()
	first := base != nil && ip[3] == base[3]+1 && ip[2] == base[2]
	switch {
	case ip.IsLoopback():
		return onLoopback
	case inner || i.Flags&net.FlagRunning == 0:
		return inside
	case ip.IsLinkLocalUnicast():
		return onSelfMade
	case wireless && first && ip.IsPrivate():
		return onHotspot
	case first:
		return firstOfNet
	case wireless:
		return onWireless
	}
	return onNetwork
}

// wireless reports whether an interface is surely a wireless one: Linux tells it,
// and names it wl… (common practice, no source); others are not guessed at.
func wireless(name string) bool {
	_, err := os.Stat(filepath.Join("/sys/class/net", filepath.Base(name), "wireless"))
	return err == nil || strings.HasPrefix(name, "wl") || strings.HasPrefix(name, "Wi-Fi")
}

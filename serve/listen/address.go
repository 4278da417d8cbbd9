package listen

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

// Address is an address of this server that a phone can type.
type Address struct {
	HostPort     string
	netInterface string // its name; "" = unknown
	kind         addressKind
}

// Scheme is "http" or "https".
func (a Access) Scheme() string {
	if a.HTTPS {
		return "https"
	}
	return "http"
}

// JoinLink is the address with the join code, for a QR code; "" when nobody is asked for
// a code, or this machine has no address.
func (a Access) JoinLink() string {
	all := a.Addresses()
	if a.Open || len(all) == 0 {
		return ""
	}
	return a.Scheme() + "://" + all[0].HostPort + "/join#" + a.ViewerCode // no request sends a fragment
}

// addressKind is the likely network of an address, the most useful first.
type addressKind int

const (
	hotspotAddress  addressKind = iota // of this laptop's own wireless network
	firstAddress                       // the first one of some network
	wirelessAddress                    // of a wireless network, perhaps somebody else's
	wiredAddress
	linkLocalAddress // no network assigned it
	internalAddress  // of a network for programs on this computer, or one that is down
	loopbackAddress
)

// Note names the interface and the likely network.
func (a Address) Note() string {
	switch {
	case a.netInterface == "":
		return ""
	case a.kind == hotspotAddress:
		return words.Say("address.hotspot", "interface", a.netInterface)
	case a.kind == wirelessAddress:
		return words.Say("address.wireless", "interface", a.netInterface)
	case a.kind == loopbackAddress:
		return words.Say("address.loopback", "interface", a.netInterface)
	}
	return words.Say("address.other", "interface", a.netInterface)
}

// Addresses returns what a phone can type: for a server on all interfaces, each IPv4
// address of this machine, that of a hotspot first.
func (a Access) Addresses() []Address { return addresses(a.Addr) }

func addresses(addr net.Addr) []Address {
	single := []Address{{HostPort: addr.String()}}
	tcp, ok := addr.(*net.TCPAddr)
	if !ok || !tcp.IP.IsUnspecified() {
		return single
	}
	interfaces, err := net.Interfaces()
	if err != nil {
		return single
	}
	var all []Address
	for _, i := range interfaces {
		addrs, err := i.Addrs()
		if err != nil || i.Flags&net.FlagUp == 0 {
			continue
		}
		for _, a := range addrs {
			if n, ok := a.(*net.IPNet); ok && n.IP.To4() != nil {
				hostPort := net.JoinHostPort(n.IP.String(), fmt.Sprint(tcp.Port))
				all = append(all, Address{hostPort, i.Name, classify(i, n, wireless(i.Name))})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Address) int { return cmp.Compare(a.kind, b.kind) })
	return all
}

// classify guesses from common practice: the computer that opens a hotspot has the first
// address of its private network, and networks for programs on this machine have known
// names.
func classify(i net.Interface, n *net.IPNet, wireless bool) addressKind {
	internal := slices.ContainsFunc([]string{"docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "tun", "tap", "utun"},
		func(start string) bool { return strings.HasPrefix(i.Name, start) })
	ip, base := n.IP.To4(), n.IP.Mask(n.Mask).To4()
	first := base != nil && ip[3] == base[3]+1 && ip[2] == base[2]
	switch {
	case ip.IsLoopback():
		return loopbackAddress
	case internal || i.Flags&net.FlagRunning == 0:
		return internalAddress
	case ip.IsLinkLocalUnicast():
		return linkLocalAddress
	case wireless && first && ip.IsPrivate():
		return hotspotAddress
	case first:
		return firstAddress
	case wireless:
		return wirelessAddress
	}
	return wiredAddress
}

// wireless reports whether an interface is certainly wireless: Linux says so,
// and names it wl… (common practice, no source).
func wireless(name string) bool {
	_, err := os.Stat(filepath.Join("/sys/class/net", filepath.Base(name), "wireless"))
	return err == nil || strings.HasPrefix(name, "wl") || strings.HasPrefix(name, "Wi-Fi")
}

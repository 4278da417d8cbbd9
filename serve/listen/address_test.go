package listen

import (
	"net"
	"regexp"
	"testing"
)

// TestClassify: a hotspot is told only where the interface is wireless and
// this computer has the first address of its private network.
func TestClassify(t *testing.T) {
	const up = net.FlagUp | net.FlagRunning
	for _, c := range []struct {
		name     string
		cidr     string
		flags    net.Flags
		wireless bool
		want     addressKind
		says     string
	}{
		{"wlan0", "10.42.0.1/24", up, true, hotspotAddress, " (wlan0, hotspot)"},
		{"wlan0", "172.20.16.1/20", up, true, hotspotAddress, " (wlan0, hotspot)"},
		{"wlan0", "192.168.7.31/24", up, true, wirelessAddress, " (wlan0, wireless)"},
		{"wlan0", "198.51.100.1/24", up, true, firstAddress, " (wlan0)"}, // no private network
		{"wlan0", "10.42.1.1/16", up, true, wirelessAddress, " (wlan0, wireless)"},
		{"eth0", "10.42.0.1/24", up, false, firstAddress, " (eth0)"},
		{"eth0", "192.168.7.30/24", up, false, wiredAddress, " (eth0)"},
		{"eth0", "169.254.3.1/16", up, false, linkLocalAddress, " (eth0)"},
		{"docker0", "172.17.0.1/16", up, false, internalAddress, " (docker0)"},
		{"wlan0", "10.42.0.1/24", net.FlagUp, true, internalAddress, " (wlan0)"}, // nobody is on it
		{"lo", "127.0.0.1/8", up | net.FlagLoopback, false, loopbackAddress, " (lo, this laptop only)"},
	} {
		ip, n, err := net.ParseCIDR(c.cidr)
		if err != nil {
			t.Fatal(err)
		}
		n.IP = ip
		a := Address{netInterface: c.name, kind: classify(net.Interface{Name: c.name, Flags: c.flags}, n, c.wireless)}
		if a.kind != c.want || a.Note() != c.says {
			t.Errorf("%s %s: kind %d,%s", c.name, c.cidr, a.kind, a.Note())
		}
	}
}

// TestServeNamesInterfaces: each of several addresses has its interface beside it,
// one that was asked for has not.
func TestServeNamesInterfaces(t *testing.T) {
	several := addresses(&net.TCPAddr{IP: net.IPv4zero, Port: 8460})
	if len(several) == 0 {
		t.Fatal("this machine has no address, not even its own")
	}
	for i, a := range several {
		if i > 0 && a.kind < several[i-1].kind {
			t.Errorf("%s comes after %s", a.HostPort, several[i-1].HostPort)
		}
		if !regexp.MustCompile(`^ \([^()]+\)$`).MatchString(a.Note()) {
			t.Errorf("%s%s", a.HostPort, a.Note())
		}
	}
	if one := addresses(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 8460}); len(one) != 1 || one[0].HostPort != "127.0.0.1:8460" || one[0].Note() != "" {
		t.Errorf("%v", one)
	}
}

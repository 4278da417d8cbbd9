package main

import (
	"net"
	"regexp"
	"testing"
)

// TestKindOfAddress: a hotspot is told only where the interface is wireless and
// this computer has the first address of its private network.
func TestKindOfAddress(t *testing.T) {
	const up = net.FlagUp | net.FlagRunning
	for _, c := range []struct {
		name     string
		cidr     string
		flags    net.Flags
		wireless bool
		want     addressKind
		says     string
	}{
		{"wlan0", "10.42.0.1/24", up, true, onHotspot, " (wlan0, hotspot)"},
		{"wlan0", "172.20.16.1/20", up, true, onHotspot, " (wlan0, hotspot)"},
		{"wlan0", "192.168.7.31/24", up, true, onWireless, " (wlan0, wireless)"},
		{"wlan0", "198.51.100.1/24", up, true, firstOfNet, " (wlan0)"}, // no private network
		{"wlan0", "10.42.1.1/16", up, true, onWireless, " (wlan0, wireless)"},
		{"eth0", "10.42.0.1/24", up, false, firstOfNet, " (eth0)"},
		{"eth0", "192.168.7.30/24", up, false, onNetwork, " (eth0)"},
		{"eth0", "169.254.3.1/16", up, false, onSelfMade, " (eth0)"},
		{"docker0", "172.17.0.1/16", up, false, inside, " (docker0)"},
		{"wlan0", "10.42.0.1/24", net.FlagUp, true, inside, " (wlan0)"}, // nobody is on it
		{"lo", "127.0.0.1/8", up | net.FlagLoopback, false, onLoopback, " (lo, this laptop only)"},
	} {
		ip, n, err := net.ParseCIDR(c.cidr)
		if err != nil {
			t.Fatal(err)
		}
		n.IP = ip
		a := address{of: c.name, kind: kindOf(net.Interface{Name: c.name, Flags: c.flags}, n, c.wireless)}
		if a.kind != c.want || a.about() != c.says {
			t.Errorf("%s %s: kind %d,%s", c.name, c.cidr, a.kind, a.about())
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
			t.Errorf("%s comes after %s", a.host, several[i-1].host)
		}
		if !regexp.MustCompile(`^ \([^()]+\)$`).MatchString(a.about()) {
			t.Errorf("%s%s", a.host, a.about())
		}
	}
	if one := addresses(&net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 8460}); len(one) != 1 || one[0].host != "127.0.0.1:8460" || one[0].about() != "" {
		t.Errorf("%v", one)
	}
}

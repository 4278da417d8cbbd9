package authority_test

import (
	"crypto/x509"
	"fmt"
	"net/netip"

	"groundsheet/serve/authority"
)

func Example() {
	hotspot := func() []netip.Prefix { return []netip.Prefix{netip.MustParsePrefix("192.168.4.1/24")} }
	a, err := authority.Open(authority.Options{Names: []string{"crew-7.local"}, Networks: hotspot})
	if err != nil {
		fmt.Println(err)
		return
	}
	issuer := a.Issuer(netip.MustParseAddr("192.168.4.1"), []string{"crew-7.local", "map.example"})
	pair, err := issuer.Certificate(nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	leaf, _ := x509.ParseCertificate(pair.Certificate[0])
	fmt.Println(leaf.DNSNames, issuer.Uncertified())
	// Output: [crew-7.local localhost] [map.example]
}

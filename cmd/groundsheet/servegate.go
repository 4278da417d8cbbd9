package main

import (
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"groundsheet/serve/announce"
	"groundsheet/serve/auth"
)

const gateLong = `A phone stays in for 7 days, also when serve is started again. A code is kept
for 7 days; --new-codes makes new ones at once, after which everybody joins
again. Map programs that cannot join send the code as the password of HTTP Basic,
with any user name.

A browser gives a phone's own position only to a page that came by HTTPS. --https
makes a certificate on this laptop that the phones install once a year; serve shows its
fingerprint, to compare with what the phone shows. It holds for the .local name and the
networks that the laptop was in when it was made: open the hotspot first.`

// gateFlags say who may come in.
type gateFlags struct {
	joinCode, markCode string
	newCodes, ask      bool
	https, newCert, qr bool
	name               string
	hosts              []string
}

func (g *gateFlags) add(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&g.joinCode, "join-code", "", "join code of your own, 12 letters or digits or more (else one is made and kept)")
	f.StringVar(&g.markCode, "mark-code", "", "code of your own for those who will also write marks; the map writes none yet")
	f.BoolVar(&g.newCodes, "new-codes", false, "make new codes: every phone joins again")
	f.BoolVar(&g.ask, "always-ask", false, "ask for the code also when only this machine can reach the map, as when its port is passed on to others")
	f.BoolVar(&g.https, "https", false, "speak HTTPS, with a certificate made on this machine")
	f.BoolVar(&g.newCert, "new-certificate", false, "with --https: make a new certificate for the networks this machine is in now; phones install it")
	f.BoolVar(&g.qr, "qr", false, "show the QR code also when this is no terminal, dark on light")
	f.StringVar(&g.name, "name", "groundsheet", "announce NAME.local on the hotspot; empty announces nothing")
	f.StringSliceVar(&g.hosts, "host", nil, "another host name or address that this server is reached by; may be repeated")
}

func (g *gateFlags) options() (auth.Options, error) {
	o := auth.Options{
		LookCode: g.joinCode, MarkCode: g.markCode, NewCodes: g.newCodes, Ask: g.ask,
		HTTPS: g.https, NewCertificate: g.newCert, Name: g.name, Names: g.hosts,
	}
	if g.name != "" && !announce.Valid(g.name) {
		return o, &wrongUse{fmt.Sprintf("--name %q cannot be announced", g.name), "give letters, digits and hyphens, such as --name crew-7"}
	}
	if dir, err := os.UserConfigDir(); err == nil {
		o.Folder = filepath.Join(dir, "groundsheet")
	}
	return o, nil
}

// sayDoor says how to come in.
func (a *app) sayDoor(o auth.Opening, qr bool) {
	scheme := "http"
	if o.HTTPS {
		scheme = "https"
	}
	all := addresses(o.Addr)
	for _, at := range all {
		a.say("map: %s://%s/%s", scheme, at.host, at.about())
	}
	if o.Name != "" && len(all) > 0 {
		_, port, _ := net.SplitHostPort(all[0].host)
		a.say("also %s://%s/ where the phone knows such names", scheme, net.JoinHostPort(o.Name, port))
	}
	for _, n := range o.Notes {
		a.say("note: %s", n)
	}
	if o.HTTPS && len(all) > 0 {
		a.say("new phones first open http://%s/certificate and install the certificate with this SHA-256 fingerprint:", all[0].host)
		a.say("    %s\n    %s", o.Fingerprint[:48], o.Fingerprint[48:])
	}
	if o.Open || len(all) == 0 {
		return
	}
	a.say("join code: %s", auth.Spoken(o.Look))
	link := joinLink(scheme, all[0].host, o.Look)
	a.say("join link: %s", link)
	a.sayQR(link, qr)
}

// joinLink carries the code in its fragment, which no request sends.
func joinLink(scheme, at, code string) string { return scheme + "://" + at + "/join#" + code }

func (a *app) sayQR(link string, always bool) {
	f, ok := a.bare.out.(*os.File)
	terminal := ok && term.IsTerminal(int(f.Fd()))
	if !terminal && !always {
		return
	}
	lines, err := drawQR(link, terminal)
	if err != nil {
		a.say("note: %v; type the address and the code", err)
		return
	}
	a.say("scan to join:")
	a.mu.Lock()
	defer a.mu.Unlock()
	fmt.Fprintln(a.bare.out, strings.Join(lines, "\n")) // its colours are our own
}

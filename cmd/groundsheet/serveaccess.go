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
	"groundsheet/serve/listen"
)

const accessHelp = `A phone stays in for 7 days, also when serve is started again. A code is kept
for 7 days; --new-codes makes new ones at once, after which everybody joins
again. Map programs that cannot join send the code as the password of HTTP Basic,
with any user name.

A browser gives a phone's own position only to a page that came by HTTPS. --https
makes a certificate on this laptop that the phones install once a year; serve shows its
fingerprint, to compare with what the phone shows. It holds for the .local name and the
networks that the laptop was in when it was made: open the hotspot first.`

// accessFlags are the flags that decide who may join, and how.
type accessFlags struct {
	joinCode, markCode string
	newCodes, ask      bool
	https, newCert, qr bool
	name               string
	hosts              []string
}

func (f *accessFlags) add(c *cobra.Command) {
	flags := c.Flags()
	flags.StringVar(&f.joinCode, "join-code", "", "join code of your own, 12 letters or digits or more (else one is made and kept)")
	flags.StringVar(&f.markCode, "mark-code", "", "code of your own for those who will also write marks; the map writes none yet")
	flags.BoolVar(&f.newCodes, "new-codes", false, "make new codes: every phone joins again")
	flags.BoolVar(&f.ask, "always-ask", false, "ask for the code also when only this machine can reach the map, as when its port is passed on to others")
	flags.BoolVar(&f.https, "https", false, "speak HTTPS, with a certificate made on this machine")
	flags.BoolVar(&f.newCert, "new-certificate", false, "with --https: make a new certificate for the networks this machine is in now; phones install it")
	flags.BoolVar(&f.qr, "qr", false, "show the QR code also when this is no terminal, dark on light")
	flags.StringVar(&f.name, "name", "groundsheet", "announce NAME.local on the hotspot; empty announces nothing")
	flags.StringSliceVar(&f.hosts, "host", nil, "another host name or address that this server is reached by; may be repeated")
}

func (f *accessFlags) options() (listen.Options, error) {
	o := listen.Options{
		Auth: auth.Options{ViewerCode: f.joinCode, RecorderCode: f.markCode, NewCodes: f.newCodes, Hosts: f.hosts},
		Ask:  f.ask, HTTPS: f.https, NewCertificate: f.newCert, Name: f.name,
	}
	if f.name != "" && !announce.Valid(f.name) {
		return o, wrongUse(fmt.Sprintf("--name %q cannot be announced", f.name), "give letters, digits and hyphens, such as --name crew-7")
	}
	if dir, err := os.UserConfigDir(); err == nil {
		o.Auth.Folder = filepath.Join(dir, "groundsheet")
	}
	return o, nil
}

// printAccess prints how to reach and join the map.
func (a *app) printAccess(at listen.Access, qr bool) {
	scheme := "http"
	if at.HTTPS {
		scheme = "https"
	}
	all := addresses(at.Addr)
	for _, one := range all {
		a.say("map: %s://%s/%s", scheme, one.hostPort, one.note())
	}
	if at.Name != "" && len(all) > 0 {
		_, port, _ := net.SplitHostPort(all[0].hostPort)
		a.say("also %s://%s/ where the phone knows such names", scheme, net.JoinHostPort(at.Name, port))
	}
	for _, n := range at.Notes {
		a.say("note: %s", n)
	}
	if at.HTTPS && len(all) > 0 {
		a.say("new phones first open http://%s/certificate and install the certificate with this SHA-256 fingerprint:", all[0].hostPort)
		a.say("    %s\n    %s", at.Fingerprint[:48], at.Fingerprint[48:])
	}
	if at.Open || len(all) == 0 {
		return
	}
	a.say("join code: %s", auth.FormatCode(at.ViewerCode))
	link := joinLink(scheme, all[0].hostPort, at.ViewerCode)
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
	fmt.Fprintln(a.bare.out, strings.Join(lines, "\n")) // its colors are our own
}

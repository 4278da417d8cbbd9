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
	listen.Options
	qr bool
}

func (a *accessFlags) add(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&a.Auth.ViewerCode, "join-code", "",
		"join code of your own, 12 letters or digits or more (else one is made and kept)")
	f.StringVar(&a.Auth.RecorderCode, "mark-code", "",
		"code of your own for those who also write into the field book (else one is made and kept)")
	f.BoolVar(&a.Auth.NewCodes, "new-codes", false, "make new codes: every phone joins again")
	f.BoolVar(&a.Ask, "always-ask", false, "ask for the code also when only this machine can reach the map, as when its port is passed on to others")
	f.BoolVar(&a.HTTPS, "https", false, "speak HTTPS, with a certificate made on this machine")
	f.BoolVar(&a.NewCertificate, "new-certificate", false,
		"with --https: make a new certificate for the networks this machine is in now; phones install it")
	f.BoolVar(&a.qr, "qr", false, "show the QR code also when this is no terminal, dark on light")
	f.StringVar(&a.Name, "name", "groundsheet", "announce NAME.local on the hotspot; empty announces nothing")
	f.StringSliceVar(&a.Auth.Hosts, "host", nil,
		"another host name or address that this server is reached by; may be repeated")
}

// check also finds the folder for codes and keys.
func (a *accessFlags) check() error {
	if a.Name != "" && !announce.Valid(a.Name) {
		return wrongUse(fmt.Sprintf("--name %q cannot be announced", a.Name),
			"give letters, digits and hyphens, such as --name crew-7")
	}
	if dir, err := os.UserConfigDir(); err == nil {
		a.Auth.Folder = filepath.Join(dir, "groundsheet")
	}
	return nil
}

// printAccess prints how to reach and join the map.
func (a *app) printAccess(at listen.Access, qr bool) {
	scheme, all := at.Scheme(), at.Addresses()
	for _, one := range all {
		a.say("map: %s://%s/%s", scheme, one.HostPort, one.Note())
	}
	if at.Name != "" && len(all) > 0 {
		_, port, _ := net.SplitHostPort(all[0].HostPort)
		a.say("also %s://%s/ where the phone knows such names", scheme, net.JoinHostPort(at.Name, port))
	}
	for _, n := range at.Notes {
		a.say("note: %s", n)
	}
	if at.HTTPS && len(all) > 0 {
		a.say("new phones first open http://%s/certificate and install the certificate with this SHA-256 fingerprint:",
			all[0].HostPort)
		a.say("    %s\n    %s", at.Fingerprint[:48], at.Fingerprint[48:])
	}
	link := at.JoinLink()
	if link == "" {
		return
	}
	a.say("join code: %s", auth.FormatCode(at.ViewerCode))
	a.say("mark code: %s, instead of it, for who records: it also opens the field book", auth.FormatCode(at.RecorderCode))
	a.say("join link: %s", link)
	a.sayQR(link, qr)
}

func (a *app) sayQR(link string, always bool) {
	f, ok := a.bare.out.(*os.File)
	terminal := ok && term.IsTerminal(int(f.Fd()))
	if !terminal && !always {
		return
	}
	code, err := listen.NewQRCode(link)
	if err != nil {
		a.say("note: %v; type the address and the code", err)
		return
	}
	a.say("scan to join:")
	a.mu.Lock()
	defer a.mu.Unlock()
	fmt.Fprintln(a.bare.out, strings.Join(code.Lines(terminal), "\n")) // its colors are our own
}

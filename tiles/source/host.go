package source

import (
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles/fault"
)

// osmPolicy names the policy; its text was read in the version of 2025-12-19.
const osmPolicy = "the OSMF Tile Usage Policy (https://operations.osmfoundation.org/policies/tiles/, text of 2025-12-19) prohibits offline use and bulk download"

const otherSource = "use a source whose terms permit offline use"

// ForbiddenHost reports whether the published policy of a host forbids what
// this program does, and names that policy. The host may carry a port and a
// trailing dot, in any case. openstreetmap.org and everything below it is
// forbidden. A name that is not plain ASCII is refused too: such names are
// rewritten on the way to the network, so they cannot be compared as written.
func ForbiddenHost(host string) (policy string, forbidden bool) {
	name := bareHost(host)
	for _, r := range name {
		if r <= ' ' || r >= 0x7f || r == '%' {
			return "the host name is not in plain letters, so no policy can be looked up for it (write its ASCII form, xn--…)", true
		}
	}
	if name == "openstreetmap.org" || strings.HasSuffix(name, ".openstreetmap.org") {
		return osmPolicy, true
	}
	return "", false
}

// bareHost is the lower-case name without user, port, brackets and trailing dots.
func bareHost(host string) string {
	host = host[strings.LastIndexByte(host, '@')+1:]
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
	if zone := strings.IndexByte(host, '%'); zone >= 0 && strings.Contains(host, ":") {
		host = host[:zone] // an IPv6 zone names an interface of this machine
	}
	return strings.ToLower(strings.TrimRight(host, "."))
}

// Forbidden is a [Refused] fault if the published policy of a host that the
// source can lead to forbids offline use, whatever the terms block says; else
// nil. The hosts are those of its address and, once its document was read, of
// its templates.
func (s Source) Forbidden() error {
	hosts := slices.Clone(s.RedirectHosts)
	for _, template := range append([]string{s.URL}, s.Templates...) {
		more, err := hostsOf(template, s.Subdomains)
		if err != nil {
			return Refuse(s.Name, "its url cannot be read", "correct url in sources.toml: "+err.Error())
		}
		hosts = append(hosts, more...)
	}
	for _, h := range hosts {
		if policy, no := ForbiddenHost(h); no {
			return Refuse(s.Name, "host "+h+": "+policy, otherSource)
		}
	}
	return nil
}

// hostsOf are the hosts of a template, one for every subdomain.
func hostsOf(template string, subs []string) ([]string, error) {
	if len(subs) == 0 {
		subs = []string{""}
	}
	var hosts []string
	for _, sub := range subs {
		text, err := Expand(template, func(name string) (string, error) {
			if name == "s" {
				return sub, nil
			}
			return "0", nil
		})
		if err != nil {
			return nil, err
		}
		u, err := url.Parse(text)
		if err != nil {
			return nil, plainURLError(err)
		}
		hosts = append(hosts, u.Host)
	}
	return hosts, nil
}

// loopback reports whether a host is this machine.
func loopback(host string) bool {
	name := bareHost(host)
	if name == "localhost" {
		return true
	}
	ip, err := netip.ParseAddr(name)
	return err == nil && ip.Unmap().IsLoopback()
}

// OtherHost is the kind of fault of a service or a redirect that leads to a host
// that the operator did not name.
var OtherHost = fault.Input("another host")

// AllowsHost is nil if an address that the operator stated, from, may lead to
// another: the same host and port, or a host of redirect_hosts, never from
// https to http. The fault is [Refused] for a host whose policy forbids offline
// use, else [OtherHost].
func (s Source) AllowsHost(from, to *url.URL) error {
	if policy, no := ForbiddenHost(to.Host); no {
		return Refuse(s.Name, s.Redact(fmt.Sprintf("host %s leads to %s: %s", from.Host, to.Host, policy)), otherSource)
	}
	because := func(why, remedy string) error {
		leads := s.Redact(fmt.Sprintf("%s://%s leads to %s://%s, ", from.Scheme, from.Host, to.Scheme, to.Host))
		return &fault.Fault{Kind: OtherHost, Place: fmt.Sprintf("source %q", s.Name), Detail: leads + why, Remedy: remedy}
	}
	text, err := url.PathUnescape(to.String())
	switch {
	case to.Scheme != "http" && to.Scheme != "https" || to.User != nil:
		return because("and only plain http and https addresses can be used", "tell the provider")
	case from.Scheme == "https" && to.Scheme != "https":
		return because("which is not encrypted", "tell the provider; a sign-in page on the network causes it too")
	case sameHost(from, to):
		return nil
	case !slices.ContainsFunc(s.RedirectHosts, func(entry string) bool { return means(entry, to) }):
		return because("whose terms nobody stated", fmt.Sprintf("if that is a sign-in page, sign in to the network first; "+
			"else read the terms of that host, then add redirect_hosts = [%q] to the source in sources.toml",
			strings.ToLower(s.Redact(to.Host))))
	case err != nil || strings.Contains(text, keyMark) || s.Redact(to.String()) != to.String():
		return because("and hands the key to it", "the key is for the source's own host alone: ask the provider for an address that does without")
	}
	return nil
}

// means reports whether an operator's entry, a host with or without a port, is
// the host of an address. Without a port it is the usual one.
func means(entry string, u *url.URL) bool {
	if strings.EqualFold(entry, u.Host) {
		return true
	}
	usual := u.Scheme == "https" && port(u) == "443" || u.Scheme == "http" && port(u) == "80"
	return usual && strings.EqualFold(entry, u.Hostname())
}

// sameHost reports whether name and port agree, or are one step from http to
// https on their usual ports.
func sameHost(from, to *url.URL) bool {
	if !strings.EqualFold(from.Hostname(), to.Hostname()) {
		return false
	}
	upgrade := from.Scheme == "http" && port(from) == "80" && to.Scheme == "https" && port(to) == "443"
	return upgrade || from.Scheme == to.Scheme && port(from) == port(to)
}

func port(u *url.URL) string {
	switch {
	case u.Port() != "":
		return u.Port()
	case u.Scheme == "https":
		return "443"
	}
	return "80"
}

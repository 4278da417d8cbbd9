package source

import (
	"net"
	"net/netip"
	"net/url"
	"slices"
	"strings"
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
		more, err := s.hosts(template)
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

// hosts are the hosts of a template, one for every subdomain.
func (s Source) hosts(template string) ([]string, error) {
	subs := s.Subdomains
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

package source

import (
	"fmt"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles/fault"
)

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
	switch {
	case to.Scheme != "http" && to.Scheme != "https" || to.User != nil:
		return because("and only plain http and https addresses can be used", "tell the provider")
	case from.Scheme == "https" && to.Scheme != "https":
		return because("which is not encrypted", "tell the provider; a sign-in page on the network causes it too")
	case sameHost(from, to):
		return nil
	case !s.namesHost(to):
		return because("whose terms nobody stated", fmt.Sprintf("if that is a sign-in page, sign in to the network first; "+
			"else read the terms of that host, then add redirect_hosts = [%q] to the source in sources.toml", strings.ToLower(s.Redact(to.Host))))
	case s.holdsKey(to):
		return because("and hands the key to it", "the key is for the source's own host alone: ask the provider for an address that does without")
	}
	return nil
}

func (s Source) holdsKey(u *url.URL) bool {
	text, err := url.PathUnescape(u.String())
	return err != nil || strings.Contains(text, keyMark) || s.Redact(u.String()) != u.String()
}

// namesHost reports whether the operator named the host of an address in
// redirect_hosts.
func (s Source) namesHost(u *url.URL) bool {
	return slices.ContainsFunc(s.RedirectHosts, func(entry string) bool { return means(entry, u) })
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

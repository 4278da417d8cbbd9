package source

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
)

// OtherHost says that a service or a redirect leads to a host that the operator
// did not name.
type OtherHost struct{ Source, From, To, Why string }

// Error names both hosts and what to do.
func (o *OtherHost) Error() string {
	return fmt.Sprintf("source %q: %s leads to %s: %s", o.Source, o.From, o.To, o.Why)
}

// AllowsHost is nil when an address that the operator stated, from, may lead to
// another: the same host and port, or a host of redirect_hosts, never from
// https to http. The error is a *[Refused] for a host whose policy forbids
// offline use, else an *[OtherHost].
func (s Source) AllowsHost(from, to *url.URL) error {
	if policy, no := ForbiddenHost(to.Host); no {
		return &Refused{s.Name, s.Redact(fmt.Sprintf("host %s leads to %s: %s", from.Host, to.Host, policy)), otherSource}
	}
	a, b := s.Redact(from.Scheme+"://"+from.Host), s.Redact(to.Scheme+"://"+to.Host)
	switch {
	case to.Scheme != "http" && to.Scheme != "https" || to.User != nil:
		return &OtherHost{s.Name, a, b, "only plain http and https addresses can be used"}
	case from.Scheme == "https" && to.Scheme != "https":
		return &OtherHost{s.Name, a, b, "from an encrypted address to one that is not; tell the provider"}
	case SameHost(from, to):
		return nil
	case !s.NamesHost(to):
		return &OtherHost{s.Name, a, b, fmt.Sprintf("nobody stated its terms; read them, then add redirect_hosts = [%q] to the source", strings.ToLower(s.Redact(to.Host)))}
	case s.holdsKey(to):
		return &OtherHost{s.Name, a, b, "and takes the key along, which is for the source's own host alone; ask the provider"}
	}
	return nil
}

func (s Source) holdsKey(u *url.URL) bool {
	text, err := url.PathUnescape(u.String())
	return err != nil || strings.Contains(text, keyMark) || s.Redact(u.String()) != u.String()
}

// NamesHost reports whether the operator named the host of an address in
// redirect_hosts.
func (s Source) NamesHost(u *url.URL) bool {
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

// SameHost reports whether name and port agree, or are one step from http to
// https on their usual ports.
func SameHost(from, to *url.URL) bool {
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

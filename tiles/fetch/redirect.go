package fetch

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"groundsheet/tiles/source"
)

// redirect gives where to ask instead. own is the address that the source
// states: leaving its host would leave its terms, unless the operator named
// the other one.
func (r *run) redirect(own string, resp *http.Response, got reply) (next string, bad *trouble, err error) {
	from := resp.Request.URL
	to, err := resp.Location()
	if err != nil {
		return "", &trouble{why: fmt.Sprintf("a redirect (%s) to nowhere", statusText(got.status))}, nil
	}
	if policy, no := source.ForbiddenHost(to.Host); no {
		return "", nil, &source.Refused{Source: r.src.Name,
			Why:    r.src.Redact(fmt.Sprintf("host %s redirects to %s: %s", from.Host, to.Host, policy)),
			Remedy: "use a source whose terms permit offline use"}
	}
	home, err := url.Parse(own)
	if err != nil {
		return "", nil, err
	}
	where := fmt.Sprintf("%s://%s redirects to %s://%s", from.Scheme, from.Host, to.Scheme, to.Host)
	switch {
	case to.Scheme != "https" && from.Scheme == "https":
		return "", nil, r.stopped(StopRedirect, where+", which is not encrypted", nil,
			"tell the provider; a sign-in page on the network causes it too")
	case sameHost(home, to):
	case !slices.ContainsFunc(r.src.RedirectHosts, func(h string) bool { return names(h, to) }):
		return "", nil, r.stopped(StopRedirect, where+", whose terms nobody stated", nil,
			"if that is a sign-in page, sign in to the network first; else read the terms of that host and put its address, or the host into redirect_hosts, into sources.toml")
	case r.src.Redact(to.String()) != to.String():
		return "", nil, r.stopped(StopRedirect, where+" and hands the key to it", nil,
			"the key is for the source alone: ask the provider for an address that needs no redirect")
	}
	if _, err := r.heed(got); err != nil {
		return "", nil, err
	}
	return to.String(), nil, nil
}

// names reports whether an operator's entry, a host with or without a port,
// means the host of a URL. Without a port it is the usual one.
func names(entry string, u *url.URL) bool {
	if strings.EqualFold(entry, u.Host) {
		return true
	}
	usual := u.Scheme == "https" && port(u) == "443" || u.Scheme == "http" && port(u) == "80"
	return usual && strings.EqualFold(entry, u.Hostname())
}

// sameHost reports whether a redirect stays with the host: same name and
// port, or the step from http to https on their usual ports.
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

package fetch

import (
	"fmt"
	"net/http"
	"net/url"

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
	case source.SameHost(home, to):
	case !r.src.NamesHost(to):
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

package fetch

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptrace"
	"net/url"
	"strings"
	"time"

	"groundsheet/tiles/source"
)

// trouble is an answer that is no answer.
type trouble struct {
	why         string
	err         error // the network's error, or nil
	final       bool  // asking again would not help
	told        bool  // the source said how long to wait
	unasked     bool  // 304 without cause: ask again without validators
	unreachable bool  // there was no connection at all
}

// redirectsFollowed is the most for one tile.
const redirectsFollowed = 3

// ask sends one request, with its redirects, in its turn. Exactly one of
// outcome, trouble and error is given; an error ends the run.
func (r *run) ask(ctx context.Context, address string, w Want) (outcome, *trouble, error) {
	for hop := 0; ; hop++ {
		gone, err := r.pace.turn(ctx)
		if err != nil {
			return outcome{}, nil, err
		}
		got, next, bad, err := r.request(ctx, address, w, gone)
		if next == "" || bad != nil || err != nil {
			return got, bad, err
		}
		if hop == redirectsFollowed {
			return outcome{}, &trouble{why: fmt.Sprintf("more than %d redirects", redirectsFollowed), final: true}, nil
		}
		address = next
	}
}

// request sends one request; next is where it redirects to, if it does.
func (r *run) request(ctx context.Context, address string, w Want, gone func()) (got outcome, next string, bad *trouble, err error) {
	limited, cancel := context.WithTimeout(ctx, r.o.Timeout)
	defer cancel()
	traced := httptrace.WithClientTrace(limited, &httptrace.ClientTrace{WroteRequest: func(httptrace.WroteRequestInfo) { gone() }})
	req, err := http.NewRequestWithContext(traced, http.MethodGet, address, nil)
	if err != nil {
		return got, "", nil, fmt.Errorf("address of tile %s cannot be used: %s", w.ID, r.src.Redact(bare(err).Error()))
	}
	r.setHeaders(req.Header, w)
	r.count(func(t *Tally) { t.Requests++ })
	a := answer{want: w, requested: r.o.Now(), sent: time.Now()}
	resp, err := r.client.Do(req)
	a.received = r.o.Now()
	if err != nil {
		bad, err = r.broken(ctx, err)
		return got, "", bad, err
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		// A short page read to its end leaves the connection usable; a longer
		// one costs a connection and nothing else.
		defer func() { _, _ = io.CopyN(io.Discard, resp.Body, 16<<10) }()
	}
	a.Response = resp
	switch resp.StatusCode {
	case 301, 302, 303, 307, 308:
		next, bad, err = r.redirect(a)
		return got, next, bad, err
	}
	got, bad, err = r.judge(ctx, a)
	return got, "", bad, err
}

// redirect gives where to ask instead. Leaving the host would leave its terms.
func (r *run) redirect(a answer) (next string, bad *trouble, err error) {
	from := a.Request.URL
	to, err := a.Location()
	if err != nil {
		return "", &trouble{why: fmt.Sprintf("a redirect (%s) to nowhere", a.status())}, nil
	}
	if policy, no := source.ForbiddenHost(to.Host); no {
		return "", nil, &source.Refused{Source: r.src.Name,
			Why:    r.src.Redact(fmt.Sprintf("host %s redirects to %s: %s", from.Host, to.Host, policy)),
			Remedy: "use a source whose terms permit offline use"}
	}
	if !sameHost(from, to) {
		return "", nil, r.stopped(StopRedirect, fmt.Sprintf("%s://%s redirects to %s://%s, whose terms nobody stated", from.Scheme, from.Host, to.Scheme, to.Host), nil,
			"if that is a sign-in page, sign in to the network first; else read the terms of that host and put its address into sources.toml")
	}
	if _, err := r.heed(a); err != nil {
		return "", nil, err
	}
	return to.String(), nil, nil
}

// heed makes every worker wait as long as the answer asks.
func (r *run) heed(a answer) (told bool, err error) {
	d, told := retryAfter(a.Header, a.received)
	if !told {
		return false, nil
	}
	if d > longestPause {
		return true, r.stopped(StopWait, fmt.Sprintf("it answers %s and asks to wait %s", a.status(), d.Round(time.Second)), nil,
			"run again after that time: what came is kept")
	}
	if added := r.pace.pause(d); added > 0 {
		r.count(func(t *Tally) { t.Waited += added })
		r.o.Log.Info("the source asks to wait", "status", a.StatusCode, "seconds", d.Seconds())
	}
	return true, nil
}

// broken sorts the errors of the network. ctx is the run's own: when it has
// ended, that is the error.
func (r *run) broken(ctx context.Context, err error) (*trouble, error) {
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	err = bare(err)
	if untrusted(err) {
		return nil, r.stopped(StopTLS, "the host cannot prove who it is", err,
			"check the clock of this computer and the address in sources.toml; a sign-in page on the network causes it too")
	}
	var dns *net.DNSError
	var op *net.OpError
	switch {
	case errors.As(err, &dns):
		return &trouble{why: "the host name cannot be looked up: " + err.Error(), err: err, unreachable: true}, nil
	case errors.As(err, &op) && op.Op == "dial":
		return &trouble{why: err.Error(), err: err, unreachable: true}, nil
	case errors.Is(err, context.DeadlineExceeded):
		return &trouble{why: fmt.Sprintf("no whole answer within %v", r.o.Timeout), err: err}, nil
	}
	return &trouble{why: "the connection broke: " + unquoted(err.Error()), err: err}, nil
}

// untrusted reports whether TLS itself refused the host.
func untrusted(err error) bool {
	var cert *tls.CertificateVerificationError
	var authority x509.UnknownAuthorityError
	var name x509.HostnameError
	var invalid x509.CertificateInvalidError
	var record tls.RecordHeaderError
	var alert tls.AlertError
	return errors.As(err, &cert) || errors.As(err, &authority) || errors.As(err, &name) ||
		errors.As(err, &invalid) || errors.As(err, &record) || errors.As(err, &alert)
}

// unquoted ends a text before its first quotation: what net/http quotes are
// the source's own words, perhaps a piece of the request.
func unquoted(text string) string {
	before, _, _ := strings.Cut(text, `"`)
	return strings.TrimRight(before, ": ")
}

// bare drops the URL, and with it the key, that url.Error repeats.
func bare(err error) error {
	var ue *url.Error
	if errors.As(err, &ue) {
		return ue.Err
	}
	return err
}

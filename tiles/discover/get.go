package discover

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"slices"
	"time"

	"groundsheet/tiles/measure"
	"groundsheet/tiles/source"
)

const (
	longestDocument   = 16 << 20 // bytes, unpacked
	redirectsFollowed = 3
)

// Options are what a caller may set; the zero value is good.
type Options struct {
	Client  *http.Client     // nil = one made for the call; redirects are always handled here
	Agent   string           // User-Agent, the same that fetching sends; "" = "groundsheet/1.0"
	Timeout time.Duration    // for one document; 0 = 30 s
	Now     func() time.Time // nil = time.Now; decides whether the terms' hours allow asking
}

// asker asks for the documents of one source.
type asker struct {
	src    source.Source
	o      Options
	client *http.Client

	collection ogcDocument // the one that was gone through, if any
}

// document is what came, and from where.
type document struct {
	at    *url.URL
	media string
	data  []byte
}

func newAsker(src source.Source, o Options) *asker {
	if o.Agent == "" {
		o.Agent = "groundsheet/1.0"
	}
	if o.Timeout <= 0 {
		o.Timeout = 30 * time.Second
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	client := http.Client{Transport: &http.Transport{
		Proxy:                  http.ProxyFromEnvironment,
		DialContext:            (&net.Dialer{Timeout: 10 * time.Second}).DialContext,
		ForceAttemptHTTP2:      true,
		TLSHandshakeTimeout:    10 * time.Second,
		MaxResponseHeaderBytes: 64 << 10,
		DisableKeepAlives:      true, // a few requests, then never again
	}}
	if o.Client != nil {
		client = *o.Client
	}
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &asker{src: src, o: o, client: &client}
}

const (
	acceptXML  = "application/xml, text/xml;q=0.9, */*;q=0.1"
	acceptJSON = "application/json, */*;q=0.1"
	acceptAny  = "application/json, application/xml;q=0.9, text/xml;q=0.9, */*;q=0.5"
)

// get reads a document. The address has {key} where the key goes.
func (a *asker) get(ctx context.Context, address, accept string) (document, error) {
	if t := a.src.Terms; t != nil && !t.OpenAt(a.o.Now()) {
		return document{}, a.failed(address, "the hours that its terms allow are over", nil,
			"run again from "+measure.Moment(t.NextOpening(a.o.Now()))+" on")
	}
	first, err := a.stated(address)
	if err != nil {
		return document{}, err
	}
	for at, hop := first, 0; ; hop++ {
		doc, next, err := a.once(ctx, at, accept)
		if next == nil || err != nil {
			return doc, err
		}
		if err := a.src.AllowsHost(first, next); err != nil {
			return document{}, err
		}
		if hop == redirectsFollowed {
			return document{}, a.failed(address, fmt.Sprintf("more than %d redirects", redirectsFollowed), nil, "give the address where the document really is")
		}
		at = next
	}
}

// stated puts the key into an address and reads it.
func (a *asker) stated(address string) (*url.URL, error) {
	text, err := a.src.WithKey(address)
	if err != nil {
		return nil, err
	}
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, a.blame(unfit("give an address that begins with https:// or http://", "%s is no address", a.src.Redact(plain(address, 200))))
	}
	return u, nil
}

// once sends one request; next is where it redirects to, if it does.
func (a *asker) once(ctx context.Context, at *url.URL, accept string) (doc document, next *url.URL, err error) {
	where := at.String()
	limited, cancel := context.WithTimeout(ctx, a.o.Timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(limited, http.MethodGet, where, nil)
	if err != nil {
		return doc, nil, a.failed(where, "the address cannot be used", bare(err), "correct url in sources.toml")
	}
	req.Header.Set("User-Agent", a.o.Agent)
	req.Header.Set("Accept", accept)
	resp, err := a.client.Do(req)
	if err != nil {
		if ctx.Err() != nil {
			return doc, nil, ctx.Err()
		}
		return doc, nil, a.broken(where, err)
	}
	defer resp.Body.Close()
	switch resp.StatusCode {
	case 301, 302, 303, 307, 308:
		next, err := resp.Location()
		if err != nil {
			return doc, nil, a.failed(where, "a redirect to nowhere", nil, "give the address where the document really is")
		}
		return doc, next, nil
	case 200:
	default:
		return doc, nil, a.refused(where, resp.StatusCode)
	}
	data, err := io.ReadAll(io.LimitReader(resp.Body, longestDocument+1))
	switch {
	case err != nil && ctx.Err() != nil:
		return doc, nil, ctx.Err()
	case err != nil:
		return doc, nil, a.broken(where, err)
	case len(data) > longestDocument:
		return doc, nil, a.failed(where, "the document is longer than 16 MB", nil, "give the address of one layer's or one tileset's document")
	}
	return document{at, resp.Header.Get("Content-Type"), data}, nil, nil
}

// Rejected is the status of a service that answered, but not with a document.
type Rejected struct{ Status int }

// Error gives the number and its usual words; those of the service are not
// repeated.
func (r *Rejected) Error() string {
	return fmt.Sprintf("it answers %d %s", r.Status, http.StatusText(r.Status))
}

func (a *asker) refused(where string, status int) error {
	remedy := "check the address, or ask the provider"
	switch status {
	case 401, 402, 403, 407, 451:
		remedy = "check the key and the terms of the source"
	case 511:
		remedy = "sign in to the network in a browser first"
	case 429, 500, 502, 503, 504:
		remedy = "try again later"
	}
	err := a.failed(where, "", &Rejected{status}, remedy)
	if slices.Contains([]int{500, 502, 503, 504}, status) {
		return outage(err)
	}
	return err
}

func (a *asker) broken(where string, err error) error {
	var cert *tls.CertificateVerificationError
	var dns *net.DNSError
	switch {
	case errors.As(err, &cert):
		return a.failed(where, "the host cannot prove who it is", bare(err), "check the clock of this computer and the address")
	case errors.As(err, &dns):
		return outage(a.failed(where, "the host name cannot be looked up", bare(err), "check the address and the network"))
	case errors.Is(err, context.DeadlineExceeded):
		return outage(a.failed(where, fmt.Sprintf("no whole answer within %s", measure.Duration(a.o.Timeout)), nil, "try again later"))
	}
	return outage(a.failed(where, "no answer", bare(err), "check the address and the network"))
}

// failed makes the error; no text in it holds the key.
func (a *asker) failed(where, why string, err error, remedy string) error {
	if err != nil && a.src.Redact(err.Error()) != err.Error() {
		err = errors.New(a.src.Redact(err.Error()))
	}
	return &Failed{Source: a.src.Name, Where: a.src.Redact(where), Why: a.src.Redact(why), Err: err, Remedy: remedy}
}

// outage marks an error of [asker.failed] as one that may pass.
func outage(err error) error {
	var f *Failed
	if errors.As(err, &f) {
		f.Outage = true
	}
	return err
}

// blame puts the name of the source to an [Unfit] and takes the key out.
func (a *asker) blame(err error) error {
	var u *Unfit
	if errors.As(err, &u) {
		return &Unfit{a.src.Name, a.src.Redact(u.Why), a.src.Redact(u.Remedy)}
	}
	return err
}

// bare drops the URL, and with it the key, that url.Error repeats.
func bare(err error) error {
	var ue *url.Error
	if errors.As(err, &ue) {
		return ue.Err
	}
	return err
}

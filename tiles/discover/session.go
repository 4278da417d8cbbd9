package discover

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/fetch/httpget"
	"groundsheet/tiles/measure"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

const longestDocument = 16 << 20 // bytes, unpacked

// Options are what a caller may set; the zero value is good.
type Options struct {
	Client  *http.Client     // nil = one made for the call; redirects are always handled here
	Contact string           // for the User-Agent; "" = that of the source's terms
	Timeout time.Duration    // for one document; 0 = 30 s
	Now     func() time.Time // nil = time.Now; decides whether the terms' hours allow asking
}

// session asks for the documents and tiles of one source.
type session struct {
	src    source.Source
	o      Options
	client *http.Client
}

// response is what came, and from where.
type response struct {
	httpcache.Response
	at        *url.URL // after redirects
	redirects []string // without the key
	proto     string   // such as "HTTP/2.0"
	data      []byte
}

func newSession(src source.Source, o Options) *session {
	if o.Contact == "" && src.Terms != nil {
		o.Contact = src.Terms.Contact
	}
	if o.Timeout <= 0 {
		o.Timeout = 30 * time.Second
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return &session{src: src, o: o, client: httpget.Client(o.Client, 0)}
}

const (
	acceptXML  = "application/xml, text/xml;q=0.9, */*;q=0.1"
	acceptJSON = "application/json, */*;q=0.1"
	acceptAny  = "application/json, application/xml;q=0.9, text/xml;q=0.9, */*;q=0.5"
)

// document reads a document. The address has {key} where the key goes.
func (s *session) document(ctx context.Context, address, accept string) (response, error) {
	if t := s.src.Terms; t != nil && !t.OpenAt(s.o.Now()) {
		return response{}, s.fail(Failed, address, "the hours that its terms allow are over", nil,
			"run again from "+measure.Moment(t.NextOpening(s.o.Now()))+" on")
	}
	text, err := s.src.WithKey(address)
	if err != nil {
		return response{}, err
	}
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return response{}, unfit("give an address that begins with https:// or http://", "%s is no address",
			oneLine(address, 200))
	}
	r, err := s.get(ctx, u, func(h http.Header) { h.Set("Accept", accept) }, longestDocument+1)
	switch {
	case err != nil:
		return response{}, err
	case r.Status != http.StatusOK:
		return response{}, s.rejected(text, r.Status)
	case len(r.data) > longestDocument:
		return response{}, s.fail(Failed, text, "the document is longer than 16 MB", nil,
			"give the address of one layer's or one tileset's document")
	}
	return r, nil
}

// get sends a request and those that its redirects lead to.
func (s *session) get(ctx context.Context, first *url.URL, fields func(http.Header), longest int64) (response, error) {
	var redirects []string
	for at := first; ; {
		r, err := s.send(ctx, at, fields, longest)
		r.redirects = redirects
		next, elsewhere := r.Header.Get("Location"), httpget.IsRedirect(r.Status)
		if err != nil || !elsewhere || next == "" {
			return r, err
		}
		to, err := at.Parse(next)
		if err != nil || len(redirects) == httpget.MaxRedirects {
			return r, s.fail(Failed, first.String(), fmt.Sprintf("more than %d redirects, or one to nowhere",
				httpget.MaxRedirects), nil,
				"give the address where it really is")
		}
		if err := s.src.AllowsHost(first, to); err != nil {
			return r, err
		}
		redirects = append(redirects, s.src.Redact(to.String()))
		at = to
	}
}

// send sends one request and reads no more than the longest body.
func (s *session) send(ctx context.Context, at *url.URL, fields func(http.Header), longest int64) (response, error) {
	where := at.String()
	limited, cancel := context.WithTimeout(ctx, s.o.Timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(limited, http.MethodGet, where, nil)
	if err != nil {
		return response{}, s.fail(Failed, where, "the address cannot be used", httpget.WithoutURL(err),
			"correct url in sources.toml")
	}
	req.Header.Set("User-Agent", httpget.UserAgent(s.o.Contact))
	fields(req.Header)
	requested := time.Now()
	resp, err := s.client.Do(req)
	if err != nil {
		return response{}, s.broken(ctx, where, err)
	}
	defer resp.Body.Close()
	r := response{at: at, proto: resp.Proto}
	if r.data, err = io.ReadAll(io.LimitReader(resp.Body, longest)); err != nil {
		return response{}, s.broken(ctx, where, err)
	}
	r.Response = httpcache.NewResponse(resp, requested, time.Now())
	return r, nil
}

// Probe is what came when one tile was asked for.
type Probe struct {
	httpcache.Response
	Tile      tiles.ID
	Address   string   // without the key
	Redirects []string // where it was sent instead, in turn; without the key
	Proto     string   // such as "HTTP/2.0"
	Data      []byte
	Picture   raster.Picture // by content
	Layers    []VectorLayer  // of a vector tile
	Flaw      error          // why the bytes are not a complete picture; nil if they are
}

// ProbeTile asks a source that is ready (see [Open]) for one tile, as fetching
// does. Whatever its terms say of keeping, nothing is kept; a host whose policy
// forbids this program is refused. client is the one that Open gave. Errors are
// those of [Resolve].
func ProbeTile(ctx context.Context, src source.Source, id tiles.ID, client *http.Client, o Options) (Probe, error) {
	if err := src.Forbidden(); err != nil {
		return Probe{}, err
	}
	if client != nil {
		o.Client = client
	}
	s := newSession(src, o)
	address, err := src.Address(id)
	if err != nil {
		return Probe{}, err
	}
	first, err := url.Parse(address)
	if err != nil {
		return Probe{}, s.blame(unfit("correct url in sources.toml", "the address cannot be used: %v",
			httpget.WithoutURL(err)))
	}
	r, err := s.get(ctx, first, httpget.TileFields, httpget.MaxTile)
	p := Probe{Response: r.Response, Tile: id, Address: src.Redact(address), Redirects: r.redirects,
		Proto: r.proto, Data: r.data}
	switch {
	case err == nil && src.Vector():
		p.Picture = raster.Picture{Kind: raster.PBF, Width: src.TileSize, Height: src.TileSize} // it has no pixels of its own
		p.Layers, p.Flaw = layersOf("", r.data)
	case err == nil:
		p.Picture, p.Flaw = raster.Prove(r.data, 0)
	}
	return p, err
}

package discover

import (
	"context"
	"net/http"
	"net/url"

	"groundsheet/tiles"
	"groundsheet/tiles/fetch/httpcache"
	"groundsheet/tiles/fetch/httpget"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// Probe is what came when one tile was asked for.
type Probe struct {
	httpcache.Response
	Tile      tiles.ID
	Address   string   // without the key
	Redirects []string // where it was sent instead, in turn; without the key
	Proto     string   // such as "HTTP/2.0"
	Data      []byte
	Picture   raster.Picture // by content
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
		return Probe{}, s.blame(unfit("correct url in sources.toml", "the address cannot be used: %v", httpget.WithoutURL(err)))
	}
	r, err := s.get(ctx, first, httpget.TileFields, httpget.MaxTile)
	p := Probe{Response: r.Response, Tile: id, Address: src.Redact(address), Redirects: r.redirects, Proto: r.proto, Data: r.data}
	if err == nil {
		p.Picture, p.Flaw = raster.Prove(r.data, 0)
	}
	return p, err
}

package discover

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"time"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/source"
)

// longestTile is the most that is read of a tile, as fetching does.
const longestTile = 8 << 20

// Look is what came when one tile was asked for.
type Look struct {
	Tile                tiles.ID
	Address             string // without the key
	Redirects           []string
	Status              int
	Proto               string // such as "HTTP/2.0"
	Header              http.Header
	Data                []byte
	Requested, Received time.Time
	Picture             raster.Picture // by content
	Flaw                error          // why the bytes are no whole picture; nil when they are
}

// LookAt asks a source that is ready (see [Open]) for one tile. Whatever its
// terms say of keeping, nothing is kept; a host whose policy forbids this
// program is refused. client is the one that Open gave. Errors are those of
// [Resolve].
func LookAt(ctx context.Context, src source.Source, id tiles.ID, client *http.Client, o Options) (Look, error) {
	if err := src.Forbidden(); err != nil {
		return Look{}, err
	}
	if client != nil {
		o.Client = client
	}
	a := newAsker(src, o)
	address, err := src.Address(id)
	if err != nil {
		return Look{}, err
	}
	first, err := url.Parse(address)
	if err != nil {
		return Look{}, a.blame(unfit("correct url in sources.toml", "the address cannot be used: %v", bare(err)))
	}
	l := Look{Tile: id, Address: src.Redact(address)}
	for at, hop := first, 0; ; hop++ {
		next, err := a.tile(ctx, at, &l)
		if next == nil || err != nil {
			return l, err
		}
		if err := src.AllowsHost(first, next); err != nil {
			return l, err
		}
		if hop == redirectsFollowed {
			return l, a.failed(address, "too many redirects", nil, "give the address where the tiles really are")
		}
		l.Redirects = append(l.Redirects, src.Redact(next.String()))
		at = next
	}
}

// tile sends one request for a tile.
func (a *asker) tile(ctx context.Context, at *url.URL, l *Look) (next *url.URL, err error) {
	limited, cancel := context.WithTimeout(ctx, a.o.Timeout)
	defer cancel()
	req, err := http.NewRequestWithContext(limited, http.MethodGet, at.String(), nil)
	if err != nil {
		return nil, a.failed(at.String(), "the address cannot be used", bare(err), "correct url in sources.toml")
	}
	req.Header.Set("User-Agent", a.o.Agent)
	req.Header.Set("Accept", "image/png, image/jpeg, image/webp;q=0.9, */*;q=0.1") // as fetching asks
	req.Header.Set("Accept-Encoding", "identity")
	l.Requested = time.Now()
	resp, err := a.client.Do(req)
	if err != nil {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		return nil, a.broken(at.String(), err)
	}
	defer resp.Body.Close()
	l.Status, l.Proto, l.Header = resp.StatusCode, resp.Proto, resp.Header
	if at, err := resp.Location(); err == nil && resp.StatusCode/100 == 3 {
		return at, nil
	}
	if l.Data, err = io.ReadAll(io.LimitReader(resp.Body, longestTile)); err != nil {
		return nil, a.broken(at.String(), err)
	}
	l.Received = time.Now()
	l.Picture, l.Flaw = raster.Prove(l.Data, 0)
	return nil, nil
}

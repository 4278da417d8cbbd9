package serve

import (
	"context"
	"fmt"
	"image"
	"net/http"
	"time"

	"groundsheet/serve/auth"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// The headers that name what a made tile was made from: the packed tile that
// was enlarged, or the zoom of the packed tiles that were shrunk.
const (
	enlargedHeader = "Groundsheet-Enlarged-From"
	shrunkHeader   = "Groundsheet-Shrunk-From"
)

// largestTile is the side of a tile that is still served, in pixels.
const largestTile = 1024

// makeTime is how long a tile may wait for its turn to be made.
const makeTime = 20 * time.Second

// How many tiles are made or cut at once for one session and for one address, so that
// others need not wait behind one phone, and how many more may wait. The project's own
// choice, no source.
const (
	madeOfSession = 2
	madeOfAddress = 4
	madeWaiting   = 128
)

// makeFor makes a tile when it is its phone's turn.
func (s *Server) makeFor(r *http.Request, p *site, t tiles.ID, how func(context.Context, *site, tiles.ID) (*answer, error)) (*answer, error) {
	done, ok := s.makingOf.Acquire(r.Context(), auth.PhoneOf(r))
	if !ok {
		return nil, errResting
	}
	defer done()
	return s.make(p, t, how)
}

// make makes a tile once for all who ask for it meanwhile, and keeps it. Only as
// many are made at once as there are cores, so that a hundred phones do not fill
// the memory. It does not stop when the phone that asked first goes away:
// another one may be waiting.
func (s *Server) make(p *site, t tiles.ID, how func(context.Context, *site, tiles.ID) (*answer, error)) (*answer, error) {
	at := place{p.serial, t}
	made, err, _ := s.making.Do(fmt.Sprint(at), func() (_ any, err error) {
		if a := s.made.get(at); a != nil {
			return a, nil // made since it was looked for
		}
		ctx, cancel := context.WithTimeout(context.Background(), makeTime)
		defer cancel()
		select {
		case s.busy <- struct{}{}:
			defer func() { <-s.busy }()
		case <-ctx.Done():
			return nil, errResting
		}
		defer func() {
			if broken := recover(); broken != nil {
				err = fmt.Errorf("the image cannot be decoded: %v", broken)
			}
		}()
		a, err := how(ctx, p, t)
		if err == nil {
			s.made.offer(at, a)
		}
		return a, err
	})
	if err != nil {
		return nil, err
	}
	return made.(*answer), nil
}

// enlarge cuts a tile out of the deepest packed one over it.
func (s *Server) enlarge(ctx context.Context, p *site, t tiles.ID) (*answer, error) {
	from, data, err := p.pack.Nearest(ctx, t)
	if err != nil || data == nil {
		return &answer{}, err
	}
	img, kind, err := decodePacked(data)
	if err != nil {
		return nil, fmt.Errorf("enlarged from %v: %w", from, err)
	}
	down := t.Z - from.Z
	mask := uint32(1)<<down - 1
	if kind == raster.WebP {
		kind = raster.PNG // there is no WebP encoder
	}
	out, err := raster.Encode(raster.Enlarge(img, down, t.X&mask, t.Y&mask, img.Bounds().Dx()), kind)
	if err != nil {
		return nil, err
	}
	a := p.newAnswer(t, out, kind)
	a.key, a.from = enlargedHeader, []string{from.String()}
	return a, nil
}

// pictureOf says what image a packed tile is, if it is one, and no larger than any
// tile is. What is damaged within is found by check, which reads all of a pack
// while it is served.
func pictureOf(data []byte) (raster.Picture, error) {
	picture, err := raster.Glance(data)
	if err == nil && (picture.Width > largestTile || picture.Height > largestTile) {
		err = fmt.Errorf("an image of %d×%d pixels is no tile", picture.Width, picture.Height)
	}
	return picture, err
}

func decodePacked(data []byte) (image.Image, raster.Kind, error) {
	picture, err := pictureOf(data)
	if err != nil {
		return nil, "", err
	}
	img, err := raster.Decode(data)
	return img, picture.Kind, err
}

package tile

import (
	"context"
	"fmt"
	"image"
	"net/http"
	"strconv"
	"time"

	"groundsheet/pack"
	"groundsheet/serve/auth"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// The headers that name what a rendered tile was made from: the packed tile that was
// enlarged, or the zoom of the packed tiles that were shrunk.
const (
	enlargedHeader = "Groundsheet-Enlarged-From"
	shrunkHeader   = "Groundsheet-Shrunk-From"
)

// RenderWait is how long a tile may wait to be rendered.
const RenderWait = 20 * time.Second

// render renders a tile when it is its phone's turn, once for all who ask meanwhile. It
// goes on when the phone that asked first goes away: another one may be waiting.
func (s *Set) render(r *http.Request, t tiles.ID, how func(context.Context) (*response, error)) (*response, error) {
	done, ok := s.server.Limiter.Acquire(r.Context(), auth.PhoneOf(r))
	if !ok {
		return nil, errPausing
	}
	defer done()
	return s.renderOnce(t, how)
}

func (s *Set) renderOnce(t tiles.ID, how func(context.Context) (*response, error)) (*response, error) {
	return s.server.rendered.Make(place{s.number, t}, func() (*response, error) {
		ctx, cancel := context.WithTimeout(context.Background(), RenderWait)
		defer cancel()
		select {
		case s.server.Rendering <- struct{}{}:
			defer func() { <-s.server.Rendering }()
			return how(ctx)
		case <-ctx.Done():
			return nil, errPausing
		}
	})
}

// draw draws a tile of the packed vector tiles.
func (s *Set) draw(ctx context.Context, t tiles.ID) (*response, error) {
	img, err := s.vector.Tile(ctx, t)
	if err != nil || img == nil {
		return &response{}, err
	}
	s.readable()
	data, err := raster.EncodeFlat(img)
	return s.newResponse(t, data, raster.PNG), err
}

// enlarge cuts a tile out of the packed one over it.
func (s *Set) enlarge(t, from tiles.ID, data []byte) (*response, error) {
	img, kind, err := decode(data)
	if err != nil {
		return nil, fmt.Errorf("enlarged from %v: %w", from, err)
	}
	down := t.Z - from.Z
	mask := uint32(1)<<down - 1
	if kind == raster.WebP {
		kind = raster.PNG // there is no WebP encoder
	}
	return s.encode(t, raster.Enlarge(img, down, t.X&mask, t.Y&mask, img.Bounds().Dx()), kind, enlargedHeader,
		from.String())
}

// encode makes a response of a rendered tile, with a header that names its source.
func (s *Set) encode(t tiles.ID, img image.Image, kind raster.Kind, header, source string) (*response, error) {
	data, err := raster.Encode(img, kind)
	if err != nil {
		return nil, err
	}
	a := s.newResponse(t, data, kind)
	a.key, a.source = header, []string{source}
	return a, nil
}

// maxShrink is how many zooms above the shallowest of a pack tiles are shrunk: one is
// composed of 4^4 packed ones at most.
const maxShrink = 4

// shallowest is the zoom from which on a pack has something to show: where all of it
// lies in two tiles by two, as far as tiles are shrunk.
func shallowest(info pack.Info) int {
	const sliver = 1e-6 // degrees: bounds come rounded, and must not reach for a whole tile more
	b, z := info.Bounds, info.Zooms.Min
	for ; z > 0 && z > info.Zooms.Min-maxShrink; z-- {
		first, last := tiles.At(b.West+sliver, b.North-sliver, z), tiles.At(b.East-sliver, b.South+sliver, z)
		if int(last.X)-int(first.X) <= 1 && int(last.Y)-int(first.Y) <= 1 {
			break
		}
	}
	return z
}

// shrink composes a tile of the shallowest packed ones under it. Photographs stay such,
// unless there is ground without a tile, which only a PNG can leave out.
func (s *Set) shrink(ctx context.Context, t tiles.ID) (*response, error) {
	if int(t.Z) < s.shallowest {
		return &response{}, nil
	}
	info := s.file.Info
	down := uint32(info.Zooms.Min) - t.Z
	side := info.About.TileSize
	if side <= 0 || side > maxSide {
		side = 256
	}
	out, photos, empty := raster.NewShrunk(side), true, true
	for n := range uint32(1) << (2 * down) {
		x, y := n&(1<<down-1), n>>down
		at := tiles.ID{Z: t.Z + down, X: t.X<<down + x, Y: t.Y<<down + y}
		data, err := s.file.Tile(ctx, at)
		if err != nil {
			return nil, err
		}
		if data == nil {
			continue
		}
		img, kind, err := decode(data)
		if err != nil {
			return nil, fmt.Errorf("shrunk from %v: %w", at, err)
		}
		photos, empty = photos && kind == raster.JPG, false
		out.Put(img, down, x, y)
	}
	if empty {
		return &response{}, nil
	}
	img, whole := out.Image()
	kind := raster.PNG
	if photos && whole {
		kind = raster.JPG
	}
	return s.encode(t, img, kind, shrunkHeader, strconv.Itoa(info.Zooms.Min))
}

func decode(data []byte) (image.Image, raster.Kind, error) {
	picture, err := inspect(data)
	if err != nil {
		return nil, "", err
	}
	img, err := raster.Decode(data)
	return img, picture.Kind, err
}

package serve

import (
	"context"
	"fmt"
	"strconv"

	"groundsheet/tiles"
	"groundsheet/tiles/raster"
)

// mostUp is how many zooms above the shallowest of a pack tiles are shrunk: one is
// put together from 4^4 packed ones at most.
const mostUp = 4

// shallowest is the zoom from which on a pack has something to show: where all of
// it lies in two tiles by two, as far as tiles are shrunk.
func (p *site) shallowest() int {
	const sliver = 1e-6 // degrees: bounds come rounded, and must not reach for a whole tile more
	zooms, b := p.pack.Info.Zooms, p.pack.Info.Bounds
	z := zooms.Min
	for ; z > 0 && z > zooms.Min-mostUp; z-- {
		first, last := tiles.At(b.West+sliver, b.North-sliver, z), tiles.At(b.East-sliver, b.South+sliver, z)
		if int(last.X)-int(first.X) <= 1 && int(last.Y)-int(first.Y) <= 1 {
			break
		}
	}
	return z
}

// shrink puts a tile together from the shallowest packed ones under it.
func (s *Server) shrink(ctx context.Context, p *site, t tiles.ID) (*answer, error) {
	zoom := uint32(p.pack.Info.Zooms.Min)
	if int(t.Z) < p.shallow {
		return &answer{}, nil
	}
	down := zoom - t.Z
	n := uint32(1) << down
	side := p.pack.Info.About.TileSize
	if side <= 0 || side > largestTile {
		side = 256
	}
	out, photos, put := raster.NewShrunk(side), true, 0
	for y := range n {
		for x := range n {
			at := tiles.ID{Z: zoom, X: t.X<<down + x, Y: t.Y<<down + y}
			data, err := p.pack.Tile(ctx, at)
			if err != nil {
				return nil, err
			}
			if data == nil {
				continue
			}
			put++
			img, kind, err := decodePacked(data)
			if err != nil {
				return nil, fmt.Errorf("shrunk from %v: %w", at, err)
			}
			photos = photos && kind == raster.JPG
			out.Put(img, down, x, y)
		}
	}
	if put == 0 {
		return &answer{}, nil
	}
	return p.encodeShrunk(t, out, photos)
}

// encodeShrunk makes an answer of a shrunk tile: photographs stay such, unless
// there is ground without a tile, which only a PNG can leave out.
func (p *site) encodeShrunk(t tiles.ID, out *raster.Shrunk, photos bool) (*answer, error) {
	img, whole := out.Image()
	kind := raster.PNG
	if photos && whole {
		kind = raster.JPG
	}
	data, err := raster.Encode(img, kind)
	if err != nil {
		return nil, err
	}
	a := p.newAnswer(t, data, kind)
	a.key, a.from = shrunkHeader, []string{strconv.Itoa(p.pack.Info.Zooms.Min)}
	return a, nil
}

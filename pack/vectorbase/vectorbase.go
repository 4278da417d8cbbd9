// Package vectorbase draws the vector tiles of a pack: what is drawn of each layer is
// in the pack, how it looks is package plainmap's, so a base of vector tiles looks like
// one of files, on the page and on paper.
//
// A vector tile is lines: it is drawn anew for each zoom, some zooms beyond the packed
// ones. Deeper, its own grid would show, and a drawing would look surer than it is.
package vectorbase

import (
	"context"
	"errors"
	"fmt"
	"image"
	"slices"
	"sync"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/project"

	"groundsheet/pack"
	"groundsheet/tiles"
	"groundsheet/tiles/geojson"
	"groundsheet/tiles/mvt"
	"groundsheet/tiles/plainmap"
	"groundsheet/tiles/source"
)

// Deeper is how many zooms beyond the packed ones are drawn: a tile's grid of 4096
// steps is 16 times as fine as its 256 pixels.
const Deeper = 4

// Base draws the vector tiles of a pack. It may be used by many at once.
type Base struct {
	pack *pack.Pack
	side int

	mu     sync.Mutex
	blocks []*block // the latest first
}

// New makes a base of a pack of vector tiles.
func New(p *pack.Pack) *Base {
	side := p.Info.About.TileSize
	if side != 256 && side != 512 {
		side = 256
	}
	return &Base{pack: p, side: side}
}

// block is a square of tiles that are drawn from the same packed tiles, with names that
// are placed together.
type block struct {
	first tiles.ID
	mu    sync.Mutex
	done  bool
	drawn *plainmap.Map // nil = nothing is packed there
	names *plainmap.Names
}

// keptBlocks is how many blocks are held; one of a town takes some megabytes.
const keptBlocks = 3

// mostPositions bounds what a block holds.
const mostPositions = 2_000_000

// Tile draws a tile; nil when the pack has nothing there, or t is too deep.
func (b *Base) Tile(ctx context.Context, t tiles.ID) (*image.RGBA, error) {
	info := b.pack.Info
	if int(t.Z) > info.Zooms.Max+Deeper || int(t.Z) < info.Zooms.Min {
		return nil, nil
	}
	n := 2
	for z := int(t.Z); z > info.Zooms.Max && n*b.side < 2048; z-- {
		n *= 2
	}
	n = min(n, 1<<min(t.Z, 10))
	first := tiles.ID{Z: t.Z, X: t.X / uint32(n) * uint32(n), Y: t.Y / uint32(n) * uint32(n)}
	one := b.block(first)
	one.mu.Lock()
	if !one.done {
		if err := b.fill(ctx, one, n); err != nil {
			one.mu.Unlock()
			return nil, err // another try may go well
		}
		one.done = true
	}
	one.mu.Unlock()
	_, data, err := b.pack.Nearest(ctx, t)
	if err != nil || data == nil || one.drawn == nil {
		return nil, err
	}
	return one.drawn.Draw(t, b.side, one.names), nil
}

// block finds a block, or begins it.
func (b *Base) block(first tiles.ID) *block {
	b.mu.Lock()
	defer b.mu.Unlock()
	one := &block{first: first}
	if i := slices.IndexFunc(b.blocks, func(o *block) bool { return o.first == first }); i >= 0 {
		one = b.blocks[i]
		b.blocks = slices.Delete(b.blocks, i, i+1)
	}
	b.blocks = append([]*block{one}, b.blocks[:min(len(b.blocks), keptBlocks-1)]...)
	return one
}

// fill reads the packed tiles of a block, and places its names.
func (b *Base) fill(ctx context.Context, one *block, n int) error {
	asked, read := map[tiles.ID]bool{}, map[tiles.ID]bool{}
	var shapes []plainmap.Shape
	positions := 0
	for i := range uint32(n * n) {
		t := tiles.ID{Z: one.first.Z, X: one.first.X + i%uint32(n), Y: one.first.Y + i/uint32(n)}
		if deep := int(t.Z) - b.pack.Info.Zooms.Max; deep > 0 {
			t = t.Ancestor(uint32(deep))
		}
		if asked[t] {
			continue
		}
		asked[t] = true
		from, data, err := b.pack.Nearest(ctx, t)
		if err != nil {
			return err
		}
		if data == nil || read[from] {
			continue
		}
		read[from] = true
		more, err := Shapes(b.pack.Info.About.Source.Drawn, from, data)
		if err != nil {
			return fmt.Errorf("tile %v: %w", from, err)
		}
		for _, s := range more {
			positions += geojson.Positions(s.Geometry)
		}
		if shapes = append(shapes, more...); positions > mostPositions {
			return errors.New("the vector tiles hold too much to be drawn")
		}
	}
	if len(read) > 0 {
		one.drawn = plainmap.New(shapes)
		one.names = one.drawn.Names(one.first, n, b.side)
	}
	return nil
}

// Shapes are what is drawn of a vector tile, in fractions of the world square.
func Shapes(drawn []pack.Drawn, at tiles.ID, data []byte) (all []plainmap.Shape, err error) {
	layers, err := mvt.Decode(data)
	if err != nil {
		return nil, err
	}
	n := float64(uint64(1) << at.Z)
	place := func(p orb.Point) orb.Point { return orb.Point{(float64(at.X) + p[0]) / n, (float64(at.Y) + p[1]) / n} }
	for _, d := range drawn {
		shows := source.Draw{Only: d.Only}
		for _, l := range layers {
			if !slices.Contains(d.Layers, l.Name) && !slices.Contains(d.Layers, "*") {
				continue
			}
			for _, f := range l.Features {
				value := func(field string) (string, bool) { return source.TextOf(f.Values, field) }
				if f.Geometry == nil || !shows.Shows(value) {
					continue
				}
				s := plainmap.Shape{Role: d.Role, Geometry: project.Geometry(orb.Clone(f.Geometry), place)}
				if d.Name != "" {
					s.Name, _ = value(d.Name)
				}
				all = append(all, s)
			}
		}
	}
	return all, nil
}

// Picture draws one vector tile by itself, with the names that have room in it.
func Picture(drawn []pack.Drawn, t tiles.ID, data []byte, side int) (*image.RGBA, error) {
	shapes, err := Shapes(drawn, t, data)
	if err != nil {
		return nil, err
	}
	m := plainmap.New(shapes)
	return m.Draw(t, side, m.Names(t, 1, side)), nil
}

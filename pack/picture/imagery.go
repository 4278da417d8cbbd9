package picture

import (
	"context"
	"fmt"
	"image"
	"iter"

	"golang.org/x/image/draw"

	"groundsheet/pack"
	"groundsheet/pack/plan"
	"groundsheet/pack/vectorbase"
	"groundsheet/tiles"
	"groundsheet/tiles/raster"
	"groundsheet/tiles/store"
)

const (
	maxEnlarged = 8  // zooms that a shallower tile is enlarged over: then a pixel of it is a tile
	minTile     = 16 // pixels that a tile must be wide on the drawing to show anything
)

// Held is what a drawing needs of an office store.
type Held interface {
	// In yields the stored tiles of a cover in tile order, holes too.
	In(ctx context.Context, c tiles.Cover, data bool) iter.Seq2[store.Held, error]
}

// Imagery is what the ground of a drawing was made of.
type Imagery struct {
	Zoom     int   // of its sharpest tiles
	Of       int64 // tiles of that zoom the drawing would need; 0 = they are too small on it to show anything
	Held     int64 // of Of: stored with an image, and drawn
	Enlarged int64 // shallower tiles that were drawn below them
}

// Drawn reports whether anything but plain ground was drawn.
func (m Imagery) Drawn() bool { return m.Held+m.Enlarged > 0 }

// imagery draws stored tiles onto the ground of a cover, each over the shallower
// ones, so that the deepest one is seen.
func (d *drawing) imagery(ctx context.Context, p plan.Plan, i int, held Held) (m Imagery, err error) {
	m.Zoom = d.sharpest(p, i)
	if d.side(m.Zoom) < minTile {
		return m, nil
	}
	m.Of = int64(above(p.Covers[i], m.Zoom).Count())
	if held == nil {
		return m, nil
	}
	ground := image.NewRGBA(d.img.Rect)
	for z := max(p.Source.Zooms.Min, m.Zoom-maxEnlarged); z <= m.Zoom; z++ {
		n, err := d.drawZoom(ctx, ground, p, above(p.Covers[i], z), held)
		if err != nil {
			return m, fmt.Errorf("picture: held imagery of zoom %d: %w", z, err)
		}
		if z == m.Zoom {
			m.Held = n
		} else {
			m.Enlarged += n
		}
	}
	if m.Drawn() {
		d.copyWithin(ground, p.Covers[i])
	}
	return m, nil
}

// sharpest is the deepest zoom up to that of a cover whose tiles keep half of
// their pixels on the drawing.
func (d *drawing) sharpest(p plan.Plan, i int) int {
	for k := i; k > 0; k-- {
		if z := p.Covers[k].Zoom(); 2*d.side(z) >= float64(p.Source.TileSize) {
			return z
		}
	}
	return p.Covers[0].Zoom()
}

// drawZoom draws the stored tiles of one zoom and counts them.
func (d *drawing) drawZoom(ctx context.Context, ground *image.RGBA, p plan.Plan, c tiles.Cover,
	held Held) (n int64, err error) {
	side := d.side(c.Zoom())
	for r, err := range held.In(ctx, c, true) {
		if err != nil {
			return n, err
		}
		if r.Hole || p.Source.Placeholder(r.Hash) {
			continue
		}
		img, err := decoded(p, r)
		if err != nil {
			continue // store verify names it
		}
		left, top := d.corner(c.Zoom(), r.X, r.Y)
		draw.ApproxBiLinear.Scale(ground, pixels(left, top, left+side, top+side), img, img.Bounds(), draw.Over, nil)
		n++
	}
	return n, nil
}

// decoded is a stored picture, or a stored vector tile drawn.
func decoded(p plan.Plan, r store.Held) (image.Image, error) {
	if p.Source.Vector() {
		return vectorbase.Picture(pack.DrawnOf(p.Source), r.ID, r.Data, p.Source.TileSize)
	}
	return raster.Decode(r.Data)
}

// copyWithin copies the drawn ground where the cover has tiles.
func (d *drawing) copyWithin(ground *image.RGBA, c tiles.Cover) {
	side := d.side(c.Zoom())
	for _, run := range c.Spans() {
		left, top := d.corner(c.Zoom(), run.First, run.Row)
		r := pixels(left, top, left+float64(run.Last-run.First+1)*side, top+side)
		draw.Draw(d.img, r, ground, r.Min, draw.Over)
	}
}

// above is the cover of a shallower zoom that holds all of a cover.
func above(c tiles.Cover, zoom int) tiles.Cover {
	down := c.Zoom() - zoom
	spans := make([]tiles.Span, 0, len(c.Spans()))
	for _, r := range c.Spans() {
		spans = append(spans, tiles.Span{Row: r.Row >> down, First: r.First >> down, Last: r.Last >> down})
	}
	return tiles.NewCover(zoom, spans)
}
